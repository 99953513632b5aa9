use super::draw;
use crate::{
    drawing::{
        axis::seconds,
        testing::{DESK, PHONE, Ruler, by_class, picture, points, read, read_time},
        words::ENGLISH,
    },
    transport::{
        setup_station::LastSizeView,
        wear::{FeatureWearView, SpindleWearView},
    },
};
use chrono::{DateTime, TimeDelta, Utc};
use dovetally_core::{
    calc::{
        Calculation,
        wear_trend::{Reading, Request, WearTrend},
    },
    code::Code,
    length::{Length, LengthUnit},
};

fn at(minutes: i64) -> DateTime<Utc> {
    "2026-05-04T06:00:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::minutes(minutes)
}

fn size(spindle: Option<u8>, piece: u64, minutes: i64, value: f64) -> LastSizeView {
    let value = Length::new(value, LengthUnit::Millimetre).unwrap();
    LastSizeView { spindle, piece: Some(piece), value, at: at(minutes) }
}

/// A feature between 9.97 and 10.03 mm, of which spindle 2 was measured at ten pieces a minute.
fn worn(values: &[f64]) -> (FeatureWearView, Vec<LastSizeView>) {
    let readings: Vec<Reading> = values
        .iter()
        .enumerate()
        .map(|(index, value)| Reading { pieces: 500.0 * index as f64, value: *value })
        .collect();
    let trend = WearTrend::calculate(&Request {
        unit: LengthUnit::Millimetre,
        readings,
        lower_limit: Some(9.97),
        upper_limit: Some(10.03),
        confidence: 0.95,
    });
    let sizes = values
        .iter()
        .enumerate()
        .map(|(index, value)| size(Some(2), 500 * index as u64, 50 * i64::try_from(index).unwrap(), *value));
    let last = 500 * (values.len().max(1) as u64 - 1);
    #[expect(clippy::cast_possible_truncation, reason = "minutes of a made-up shift")]
    let later = |pieces: Option<f64>| pieces.map(|pieces| at((last as f64 / 10.0 + pieces / 10.0) as i64));
    let told = trend.ok();
    let result = told.as_ref().map(|answer| &answer.result);
    let length = |value| Length::new(value, LengthUnit::Millimetre).unwrap();
    let view = FeatureWearView {
        feature: Code::parse("D1").unwrap(),
        smallest: length(9.97),
        largest: length(10.03),
        spindles: vec![SpindleWearView {
            spindle: 2,
            readings: values.len(),
            more_readings: 0,
            significant: result.is_some(),
            last_piece: last,
            pieces_to_limit: result.and_then(|result| result.pieces_to_limit),
            pieces_to_limit_low: result.and_then(|result| result.pieces_to_limit_low),
            pieces_to_limit_high: result.and_then(|result| result.pieces_to_limit_high),
            about: later(result.and_then(|result| result.pieces_to_limit)),
            earliest: later(result.and_then(|result| result.pieces_to_limit_low)),
            latest: later(result.and_then(|result| result.pieces_to_limit_high)),
            trend: told.as_ref().map(|answer| serde_json::to_value(answer).unwrap()),
        }],
        without_spindle: 0,
        first: result.map(|_| 2),
        holds_until: None,
        sentence: String::new(),
    };
    (view, sizes.collect())
}

/// Labels on the axis are times of one day.
fn clock(text: &str) -> f64 {
    read_time(&if text.len() == 5 { format!("2026-05-04 {text}") } else { text.to_owned() })
}

#[test]
fn sizes_limits_and_the_time_to_regrind_stand_where_the_table_says() {
    let (view, sizes) = worn(&[10.001, 10.005, 10.012, 10.014, 10.021]);
    for setting in [DESK, PHONE] {
        let drawing = draw(&view, &sizes, &ENGLISH, &setting);
        let document = picture(&drawing, &setting);
        let (up, across) = (Ruler::upward(&document), Ruler::across(&document, clock));
        let (xs, ys) = (by_class(&document, "chart-point", "cx"), by_class(&document, "chart-point", "cy"));
        let rows: Vec<_> = drawing.table.rows.iter().filter(|row| row[1] == ENGLISH.sizes.reading_row).collect();
        assert_eq!((rows.len(), xs.len()), (5, 5));
        for ((row, x), y) in rows.iter().zip(&xs).zip(&ys) {
            across.assert(*x, read_time(&row[0]));
            up.assert(*y, read(&row[4]));
            assert_eq!(row[2], "2");
        }
        let limits = by_class(&document, "chart-limit", "y1");
        up.assert(limits[0], 9.97);
        up.assert(limits[1], 10.03);
        // The line starts at the last size and ends at the limit, at the time told.
        let line = points(&document, "chart-line");
        up.assert(line[1].1, 10.03);
        across.assert(line[0].0, seconds(at(200)));
        let days = by_class(&document, "chart-day", "x1");
        let told = |at: Option<DateTime<Utc>>| seconds(at.unwrap());
        across.assert(days[0], told(view.spindles[0].earliest));
        across.assert(days[1], told(view.spindles[0].about));
        across.assert(line[1].0, told(view.spindles[0].about));
        let when = view.spindles[0].about.unwrap().format("%F %H:%M").to_string();
        assert!(drawing.summary.contains(&when), "{}", drawing.summary);
        assert!(drawing.table.rows.iter().any(|row| row[0] == when), "{:?}", drawing.table);
    }
}

#[test]
fn nothing_one_size_equal_sizes_and_a_far_one() {
    for values in [&[][..], &[10.0], &[10.0, 10.0, 10.0], &[10.0, 10.0, 900.0]] {
        let (view, sizes) = worn(values);
        for setting in [DESK, PHONE] {
            let drawing = draw(&view, &sizes, &ENGLISH, &setting);
            let document = picture(&drawing, &setting);
            assert_eq!(by_class(&document, "chart-point", "cx").len(), values.len());
            let up = Ruler::upward(&document);
            for (y, value) in by_class(&document, "chart-point", "cy").iter().zip(values) {
                up.assert(*y, *value);
            }
        }
    }
    let (view, _) = worn(&[]);
    assert!(draw(&view, &[], &ENGLISH, &DESK).summary.starts_with("Nothing was measured yet"));
}

#[test]
fn what_nobody_said_is_not_known() {
    let (view, _) = worn(&[]);
    let sizes = [LastSizeView { piece: None, ..size(None, 0, 5, 10.0) }];
    let drawing = draw(&view, &sizes, &ENGLISH, &DESK);
    picture(&drawing, &DESK);
    assert!(drawing.table.rows[0][2..4].iter().all(|cell| *cell == ENGLISH.sizes.unknown), "{:?}", drawing.table);
}
