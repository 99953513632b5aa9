// Longer than usual: one table after the other, nothing to split by topic without hiding what joins what.
//! The tables as diesel sees them, the same for both databases; the migrations document the columns.

diesel::table! {
    booking_days (item_id, day) {
        item_id -> Text,
        day -> Date,
        booking_id -> Text,
    }
}

diesel::table! {
    bookings (id) {
        id -> Text,
        job_id -> Text,
        item_id -> Text,
        station -> Text,
        first_day -> Date,
        last_day -> Date,
        booked_by -> Text,
        booked_at -> Timestamp,
        ended_by -> Nullable<Text>,
        ended_at -> Nullable<Timestamp>,
        ended_because -> Nullable<Text>,
        version -> BigInt,
    }
}

diesel::table! {
    center_gauge_stations (gauge_id, station_id) {
        gauge_id -> Text,
        machine_id -> Text,
        station_id -> Text,
    }
}

diesel::table! {
    center_gauges (item_id) {
        item_id -> Text,
        kind -> Text,
        machine_id -> Text,
        nominal_pm -> BigInt,
        nominal_unit -> Text,
        lower_pm -> BigInt,
        lower_unit -> Text,
        upper_pm -> BigInt,
        upper_unit -> Text,
        next_check -> Nullable<Date>,
        last_accepted_check_at -> Nullable<Timestamp>,
        check_interval_days -> Nullable<Integer>,
    }
}

diesel::table! {
    center_height_spindles (center_height_id, spindle) {
        center_height_id -> Text,
        spindle -> Integer,
        measured_pm -> BigInt,
        measured_unit -> Text,
    }
}

diesel::table! {
    center_heights (id) {
        id -> Text,
        machine_id -> Text,
        measured_pm -> BigInt,
        measured_unit -> Text,
        standard_uncertainty_pm -> BigInt,
        standard_uncertainty_unit -> Text,
        reason -> Text,
        after_work -> Bool,
        performed_at -> Timestamp,
        recorded_by -> Text,
        recorded_at -> Timestamp,
        station -> Nullable<Text>,
    }
}

diesel::table! {
    centers_moved (machine_id, moved_at) {
        machine_id -> Text,
        moved_at -> Timestamp,
    }
}

diesel::table! {
    chain_head (id) {
        id -> Integer,
        sequence -> BigInt,
        chain_hash -> Text,
    }
}

diesel::table! {
    changes (sequence) {
        sequence -> BigInt,
        id -> Text,
        kind -> Text,
        subject_kind -> Text,
        subject_id -> Text,
        subject_version -> BigInt,
        actor_id -> Nullable<Text>,
        recorded_at -> Timestamp,
        state -> Text,
        digest -> Text,
        chain_hash -> Text,
    }
}

diesel::table! {
    codes (code) {
        code -> Text,
        subject_kind -> Text,
        subject_id -> Text,
        alias -> Bool,
    }
}

diesel::table! {
    custody (item_id) {
        item_id -> Text,
        held_by -> Text,
        place_id -> Nullable<Text>,
        person_id -> Nullable<Text>,
        machine_id -> Nullable<Text>,
        purpose -> Nullable<Text>,
        due -> Nullable<Date>,
        job_id -> Nullable<Text>,
        for_machine_id -> Nullable<Text>,
        since -> Timestamp,
        movement_sequence -> BigInt,
    }
}

diesel::table! {
    form_tools (item_id) {
        item_id -> Text,
        kind -> Text,
        design_id -> Text,
        height_pm -> BigInt,
        height_unit -> Text,
        regrind_count -> Integer,
        pieces_since_grind -> BigInt,
        pieces_total -> BigInt,
        last_ground_at -> Nullable<Timestamp>,
        checked_after_grind -> Bool,
        begun_before -> Bool,
        edges_ended -> Integer,
    }
}

diesel::table! {
    gauge_bindings (gauge_id, number) {
        gauge_id -> Text,
        number -> Integer,
        machine_id -> Text,
        bound_from -> Timestamp,
        bound_until -> Nullable<Timestamp>,
        bound_by -> Nullable<Text>,
        check_id -> Nullable<Text>,
    }
}

diesel::table! {
    gauge_check_proposals (check_id) {
        check_id -> Text,
        proposed_next_check -> Date,
    }
}

diesel::table! {
    gauge_checks (id) {
        id -> Text,
        gauge_id -> Text,
        machine_id -> Text,
        as_found_pm -> BigInt,
        as_found_unit -> Text,
        as_left_pm -> Nullable<BigInt>,
        as_left_unit -> Nullable<Text>,
        standard_uncertainty_pm -> BigInt,
        standard_uncertainty_unit -> Text,
        accepted -> Bool,
        certificate -> Nullable<Text>,
        next_check -> Date,
        performed_at -> Timestamp,
        recorded_by -> Text,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    gauge_control (id) {
        id -> Integer,
        conformance -> Nullable<Double>,
        guard_factor -> Nullable<Double>,
        impact_when_undecided -> Bool,
        version -> BigInt,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    gauge_decisions (check_id, state) {
        check_id -> Text,
        state -> Text,
        conformance -> Nullable<Double>,
        guard_factor -> Nullable<Double>,
        nominal_pm -> BigInt,
        nominal_unit -> Text,
        lower_pm -> BigInt,
        lower_unit -> Text,
        upper_pm -> BigInt,
        upper_unit -> Text,
        acceptance_lower_pm -> Nullable<BigInt>,
        acceptance_upper_pm -> Nullable<BigInt>,
        proof -> Text,
        conformance_probability -> Double,
    }
}

diesel::table! {
    gauge_uses (setup_id, placed_sequence) {
        setup_id -> Text,
        placed_sequence -> BigInt,
        gauge_id -> Text,
        machine_id -> Text,
        station -> Text,
        placed_at -> Timestamp,
        removed_at -> Nullable<Timestamp>,
        tool_id -> Nullable<Text>,
    }
}

diesel::table! {
    gauges_in_machines (gauge_id) {
        gauge_id -> Text,
        machine_id -> Text,
        setup_id -> Text,
        station -> Text,
        mode -> Text,
    }
}

diesel::table! {
    handovers (id) {
        id -> Text,
        taken_by -> Text,
        taken_at -> Timestamp,
        note -> Nullable<Text>,
        floor -> Text,
    }
}

diesel::table! {
    holder_checks (id) {
        id -> Text,
        holder_id -> Text,
        accepted -> Bool,
        found -> Text,
        taper_adjuster_free -> Nullable<Bool>,
        height_adjuster_free -> Nullable<Bool>,
        side_screw_free -> Nullable<Bool>,
        seat_clean -> Bool,
        note -> Nullable<Text>,
        condition -> Text,
        next_check -> Nullable<Date>,
        performed_at -> Timestamp,
        recorded_by -> Text,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    holders (item_id) {
        item_id -> Text,
        kind -> Text,
        style -> Text,
        adjusters -> Text,
        next_check -> Nullable<Date>,
        check_interval_days -> Nullable<Integer>,
    }
}

diesel::table! {
    idempotency_keys (principal, method, path, idempotency_key) {
        principal -> Text,
        method -> Text,
        path -> Text,
        idempotency_key -> Text,
        fingerprint -> Text,
        status -> Nullable<Integer>,
        headers -> Nullable<Text>,
        body -> Nullable<Text>,
        created_at -> Timestamp,
    }
}

diesel::table! {
    impact_entries (impact_id, number) {
        impact_id -> Text,
        number -> Integer,
        kind -> Text,
        setup_id -> Nullable<Text>,
        run_id -> Nullable<Text>,
        job_id -> Nullable<Text>,
        item_id -> Nullable<Text>,
        pieces -> Nullable<BigInt>,
        evidence -> Text,
        outcome -> Nullable<Text>,
        note -> Nullable<Text>,
        judged_by -> Nullable<Text>,
        judged_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    impacts (id) {
        id -> Text,
        gauge_id -> Text,
        machine_id -> Text,
        check_id -> Nullable<Text>,
        reason -> Text,
        doubtful_since -> Nullable<Timestamp>,
        doubtful_until -> Nullable<Timestamp>,
        raised_by -> Text,
        raised_at -> Timestamp,
        up_to_date_at -> Timestamp,
        closed_by -> Nullable<Text>,
        closed_at -> Nullable<Timestamp>,
        closing_note -> Nullable<Text>,
        version -> BigInt,
    }
}

diesel::table! {
    items (id) {
        id -> Text,
        code -> Text,
        kind -> Text,
        name -> Text,
        condition -> Text,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
        blocked_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    items_in_setups (item_id) {
        item_id -> Text,
        setup_id -> Text,
        station -> Text,
    }
}

diesel::table! {
    jobs (id) {
        id -> Text,
        code -> Text,
        part_id -> Text,
        machine_id -> Text,
        quantity -> BigInt,
        planned_start -> Date,
        state -> Text,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
        planned_end -> Nullable<Date>,
    }
}

diesel::table! {
    machine_states (machine_id) {
        machine_id -> Text,
        version -> BigInt,
        mode -> Text,
        tagged_out -> Bool,
    }
}

diesel::table! {
    machine_stations (id) {
        id -> Text,
        machine_id -> Text,
        code -> Text,
        position -> Integer,
        kind -> Text,
        tool_face -> Text,
        adjusters -> Text,
    }
}

diesel::table! {
    machines (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        spindles -> Integer,
        positions -> Integer,
        cutoff_position -> Integer,
        pieces_per_cycle -> Integer,
        spindle_rotation -> Text,
        center_height_nominal_pm -> BigInt,
        center_height_nominal_unit -> Text,
        spindle_center_spread_pm -> Nullable<BigInt>,
        spindle_center_spread_unit -> Nullable<Text>,
        centers_may_have_moved_at -> Nullable<Timestamp>,
        retired -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    maintenance_plans (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        machine_id -> Nullable<Text>,
        item_id -> Nullable<Text>,
        other -> Nullable<Text>,
        steps -> Text,
        cautions -> Text,
        every_days -> Nullable<BigInt>,
        every_pieces -> Nullable<BigInt>,
        every_setups -> Nullable<BigInt>,
        every_running_hours -> Nullable<BigInt>,
        due_from_percent -> Integer,
        last_done_at -> Nullable<Timestamp>,
        retired -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    movements (id) {
        id -> Text,
        item_id -> Text,
        item_sequence -> BigInt,
        kind -> Text,
        from_kind -> Nullable<Text>,
        from_place_id -> Nullable<Text>,
        from_person_id -> Nullable<Text>,
        from_machine_id -> Nullable<Text>,
        to_kind -> Text,
        to_place_id -> Nullable<Text>,
        to_person_id -> Nullable<Text>,
        to_machine_id -> Nullable<Text>,
        condition -> Text,
        purpose -> Nullable<Text>,
        due -> Nullable<Date>,
        job_id -> Nullable<Text>,
        for_machine_id -> Nullable<Text>,
        setup_id -> Nullable<Text>,
        recorded_by -> Text,
        occurred_at -> Timestamp,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    part_operations (part_id, station) {
        part_id -> Text,
        station -> Text,
        tool_design_id -> Nullable<Text>,
        holder_style -> Nullable<Text>,
        features -> Text,
    }
}

diesel::table! {
    parts (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        retired -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
        cycle_seconds -> Nullable<Double>,
    }
}

diesel::table! {
    people (id) {
        id -> Text,
        badge -> Text,
        name -> Text,
        secret_hash -> Text,
        disabled -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    person_roles (person_id, role) {
        person_id -> Text,
        role -> Text,
    }
}

diesel::table! {
    places (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        kind -> Text,
        retired -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    releases_in_force (setup_id) {
        setup_id -> Text,
        machine_id -> Text,
        mode -> Text,
    }
}

diesel::table! {
    run_items (run_id, item_id) {
        run_id -> Text,
        item_id -> Text,
        station -> Text,
    }
}

diesel::table! {
    runs (id) {
        id -> Text,
        setup_id -> Text,
        number -> Integer,
        machine_id -> Text,
        part_id -> Text,
        job_id -> Nullable<Text>,
        released_sequence -> BigInt,
        released_at -> Timestamp,
        ended_at -> Nullable<Timestamp>,
        pieces -> Nullable<BigInt>,
        pieces_are -> Text,
    }
}

diesel::table! {
    sessions (id) {
        id -> Text,
        person_id -> Text,
        refresh_hash -> Text,
        previous_refresh_hash -> Nullable<Text>,
        rotated_at -> Timestamp,
        created_at -> Timestamp,
        expires_at -> Timestamp,
        ended_at -> Nullable<Timestamp>,
    }
}

diesel::table! {
    setup_events (setup_id, sequence) {
        setup_id -> Text,
        sequence -> BigInt,
        kind -> Text,
        station -> Nullable<Text>,
        payload -> Text,
        payload_version -> Integer,
        recorded_by -> Text,
        occurred_at -> Timestamp,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    setups (id) {
        id -> Text,
        machine_id -> Text,
        part_id -> Text,
        job_id -> Nullable<Text>,
        state -> Text,
        opened_with -> Text,
        opened_by -> Text,
        opened_at -> Timestamp,
        closed_at -> Nullable<Timestamp>,
        version -> BigInt,
    }
}

diesel::table! {
    shop_settings (id) {
        id -> Integer,
        first_piece_by_another_person -> Bool,
        first_piece_from_every_spindle -> Bool,
        recheck_after_holder_move -> Text,
        height_limit_pm -> BigInt,
        height_limit_unit -> Text,
        version -> BigInt,
        updated_at -> Timestamp,
        provisional_most_pieces -> Nullable<BigInt>,
        provisional_most_minutes -> Nullable<Integer>,
    }
}

diesel::table! {
    spindle_spreads (machine_id, station) {
        machine_id -> Text,
        station -> Text,
        center_height_id -> Text,
        spread_pm -> BigInt,
        spread_unit -> Text,
    }
}

diesel::table! {
    spent_refresh_tokens (refresh_hash) {
        refresh_hash -> Text,
        session_id -> Text,
    }
}

diesel::table! {
    supplies (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        unit -> Text,
        minimum -> BigInt,
        reorder_quantity -> BigInt,
        lead_time_days -> BigInt,
        place_id -> Nullable<Text>,
        retired -> Bool,
        on_hand -> BigInt,
        movements -> BigInt,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
    }
}

diesel::table! {
    supply_movements (supply_id, number) {
        supply_id -> Text,
        number -> BigInt,
        id -> Text,
        kind -> Text,
        previous_number -> Nullable<BigInt>,
        on_hand_before -> BigInt,
        change -> BigInt,
        on_hand -> BigInt,
        counted -> Nullable<BigInt>,
        work_order_id -> Nullable<Text>,
        machine_id -> Nullable<Text>,
        note -> Nullable<Text>,
        recorded_by -> Text,
        occurred_at -> Timestamp,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    tag_outs (id) {
        id -> Text,
        machine_id -> Text,
        reason -> Text,
        placed_by -> Text,
        placed_at -> Timestamp,
        cleared_by -> Nullable<Text>,
        cleared_at -> Nullable<Timestamp>,
        cleared_note -> Nullable<Text>,
        version -> BigInt,
    }
}

diesel::table! {
    tool_designs (id) {
        id -> Text,
        code -> Text,
        name -> Text,
        kind -> Text,
        tool_face -> Nullable<Text>,
        rake_deg -> Double,
        clearance_deg -> Double,
        steps -> Text,
        new_height_pm -> BigInt,
        new_height_unit -> Text,
        minimum_height_pm -> BigInt,
        minimum_height_unit -> Text,
        grind_stock_pm -> BigInt,
        grind_stock_unit -> Text,
        holder_style -> Text,
        expected_pieces_per_grind -> BigInt,
        retired -> Bool,
        version -> BigInt,
        created_at -> Timestamp,
        updated_at -> Timestamp,
        tool_radius_pm -> Nullable<BigInt>,
        tool_radius_unit -> Nullable<Text>,
        usable_angle_deg -> Nullable<Double>,
        lead_time_days -> Nullable<Integer>,
        rake_tolerance_deg -> Double,
    }
}

diesel::table! {
    edge_turns (tool_id) {
        tool_id -> Text,
        turn -> Integer,
    }
}

diesel::table! {
    pieces_to_book (run_id, tool_id) {
        run_id -> Text,
        tool_id -> Text,
        turn -> Integer,
    }
}

diesel::table! {
    regrind_grinders (regrind_id) {
        regrind_id -> Text,
        person_id -> Nullable<Text>,
        outside -> Nullable<Text>,
    }
}

diesel::table! {
    regrinds (id) {
        id -> Text,
        tool_id -> Text,
        number -> Integer,
        kind -> Text,
        height_on_record_pm -> BigInt,
        height_on_record_unit -> Text,
        height_before_pm -> BigInt,
        height_before_unit -> Text,
        height_after_pm -> BigInt,
        height_after_unit -> Text,
        stock_pm -> Nullable<BigInt>,
        stock_unit -> Nullable<Text>,
        wear_land_pm -> Nullable<BigInt>,
        wear_land_unit -> Nullable<Text>,
        clean_up_pm -> Nullable<BigInt>,
        clean_up_unit -> Nullable<Text>,
        regrind_count -> Integer,
        pieces_on_edge -> BigInt,
        edge_ended -> Nullable<Text>,
        wheel -> Nullable<Text>,
        dressed -> Bool,
        burn_seen -> Bool,
        rake_deg -> Nullable<Double>,
        face_offset_pm -> Nullable<BigInt>,
        face_offset_unit -> Nullable<Text>,
        profile_checked -> Bool,
        retired -> Bool,
        remarks -> Text,
        note -> Nullable<Text>,
        occurred_at -> Timestamp,
        recorded_by -> Text,
        recorded_at -> Timestamp,
    }
}

diesel::table! {
    tool_belongings (tool_id) {
        tool_id -> Text,
        owner -> Nullable<Text>,
        reserved_for -> Text,
    }
}

diesel::table! {
    tool_checks (id) {
        id -> Text,
        tool_id -> Text,
        after_grind -> Integer,
        accepted -> Bool,
        condition -> Text,
        profile_checked -> Bool,
        edge_sound -> Bool,
        height_pm -> Nullable<BigInt>,
        height_unit -> Nullable<Text>,
        rake_deg -> Nullable<Double>,
        face_offset_pm -> Nullable<BigInt>,
        face_offset_unit -> Nullable<Text>,
        found -> Text,
        remarks -> Text,
        note -> Nullable<Text>,
        performed_at -> Timestamp,
        recorded_by -> Text,
        recorded_at -> Timestamp,
        edge_doubted -> Bool,
        edge_cleared -> Nullable<Text>,
    }
}

diesel::table! {
    tool_consents (id) {
        id -> Text,
        tool_id -> Text,
        kind -> Text,
        part_id -> Nullable<Text>,
        given_by -> Text,
        valid_until -> Nullable<Date>,
        note -> Nullable<Text>,
        recorded_by -> Text,
        recorded_at -> Timestamp,
        withdrawn_by -> Nullable<Text>,
        withdrawn_at -> Nullable<Timestamp>,
        version -> BigInt,
    }
}

diesel::table! {
    tool_edges (tool_id, number) {
        tool_id -> Text,
        number -> Integer,
        design_id -> Text,
        pieces -> BigInt,
        ended -> Text,
        partly_ground -> Bool,
        failed -> Bool,
        ended_at -> Timestamp,
        begun_before -> Bool,
    }
}

diesel::table! {
    parts_counted (work_order_id, supply_id) {
        work_order_id -> Text,
        supply_id -> Text,
        quantity -> BigInt,
        used_at -> Timestamp,
        count_number -> BigInt,
    }
}

diesel::table! {
    work_called_off (work_order_id) {
        work_order_id -> Text,
        touched -> Text,
    }
}

diesel::table! {
    work_orders (id) {
        id -> Text,
        plan_id -> Nullable<Text>,
        machine_id -> Nullable<Text>,
        item_id -> Nullable<Text>,
        other -> Nullable<Text>,
        what -> Text,
        breakdown -> Bool,
        down_from -> Nullable<Timestamp>,
        down_until -> Nullable<Timestamp>,
        state -> Text,
        opened_by -> Text,
        opened_at -> Timestamp,
        started_by -> Nullable<Text>,
        started_at -> Nullable<Timestamp>,
        ended_by -> Nullable<Text>,
        ended_at -> Nullable<Timestamp>,
        done_at -> Nullable<Timestamp>,
        note -> Nullable<Text>,
        touched -> Nullable<Text>,
        version -> BigInt,
    }
}

// Only on PostgreSQL: what sealing passes have still to number.
diesel::table! {
    changes_pending (ticket) {
        ticket -> BigInt,
        id -> Text,
        kind -> Text,
        subject_kind -> Text,
        subject_id -> Text,
        subject_version -> BigInt,
        actor_id -> Nullable<Text>,
        recorded_at -> Timestamp,
        state -> Text,
        digest -> Text,
    }
}

diesel::allow_tables_to_appear_in_same_query!(
    booking_days,
    bookings,
    center_gauge_stations,
    center_gauges,
    center_height_spindles,
    center_heights,
    centers_moved,
    chain_head,
    changes,
    codes,
    custody,
    edge_turns,
    form_tools,
    gauge_bindings,
    gauge_check_proposals,
    gauge_checks,
    gauge_control,
    gauge_decisions,
    gauge_uses,
    gauges_in_machines,
    handovers,
    holder_checks,
    holders,
    idempotency_keys,
    impact_entries,
    impacts,
    items,
    items_in_setups,
    jobs,
    machine_states,
    machine_stations,
    machines,
    maintenance_plans,
    movements,
    part_operations,
    parts,
    parts_counted,
    people,
    person_roles,
    pieces_to_book,
    places,
    regrind_grinders,
    releases_in_force,
    run_items,
    runs,
    sessions,
    setup_events,
    setups,
    shop_settings,
    spent_refresh_tokens,
    supplies,
    supply_movements,
    spindle_spreads,
    tag_outs,
    tool_designs,
    regrinds,
    tool_belongings,
    tool_checks,
    tool_consents,
    tool_edges,
    work_called_off,
    work_orders,
    changes_pending,
);
