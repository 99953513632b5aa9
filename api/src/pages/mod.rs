//! The pages: what people see at the counter, at the machine and in the office.
//!
//! They call the same use cases and rules as the API and are no part of its document. A page is a file here with its
//! handlers, its words ([`wording`]) and a template in `api/templates/pages/`; it is registered in [`register`]. Every page
//! works with plain forms: scripts add scanning, the queue of what is not sent yet, and times in the reader's own zone.
//!
//! A handler asks for its permission by [`visit::Visit`], reads what a form sent by [`visit::Sent`], and answers with
//! [`frame::page`]. What goes wrong is returned as a problem: [`problems`] makes a page of it.

pub mod adjust;
pub mod assets;
pub mod center_heights;
pub mod counter;
pub mod drawn;
pub mod drift;
pub mod due;
pub mod find;
pub mod floor;
pub mod forms;
pub mod frame;
pub mod gauge;
pub mod gauge_checks;
pub mod handover;
pub mod holder_checks;
pub mod impact;
pub mod impacts;
pub mod item;
pub mod job;
pub mod jobs;
pub mod labels;
pub mod machine;
pub mod machines;
pub mod maintenance;
pub mod new_work_order;
pub mod numbers;
pub mod people;
pub mod preferences;
pub mod problems;
pub mod read_back;
pub mod regrinds;
pub mod setup;
pub mod setup_charts;
pub mod shop_settings;
pub mod short_link;
pub mod sign_in;
pub mod sizes;
pub mod start;
pub mod supplies;
pub mod supply;
pub mod tag_out;
pub mod tool;
pub mod tool_checks;
pub mod tool_life;
pub mod tool_on_record;
pub mod visit;
mod who;
pub mod wording;
pub mod work_order;
pub mod work_order_end;

pub use problems::problems_as_pages;

use actix_web::web::{ServiceConfig, get, post, resource};

/// Registers every page. None of these paths is one of the API's.
pub fn register(pages: &mut ServiceConfig) {
    pages
        .route("/assets/{version}/{name}", get().to(assets::serve))
        .route("/", get().to(start::show))
        .service(resource("/sign-in").get(sign_in::show).post(sign_in::sign_in))
        .route("/sign-out", post().to(sign_in::sign_out))
        .route("/screen", post().to(sign_in::choose))
        .route("/find", get().to(find::show))
        .route("/s", get().to(short_link::typed))
        .route("/s/{code}", get().to(short_link::scanned))
        .route("/counter", get().to(counter::show))
        // Whoever signs in on the way to sending a form comes back by its address: that leads to the form's page.
        .service(resource("/counter/scans").get(counter::form).post(counter::scan))
        .service(resource("/counter/returns").get(counter::form).post(counter::take_back_job))
        .route("/items/{code}", get().to(item::show))
        .service(resource("/setups/{id}/sizes").get(sizes::show).post(sizes::read))
        .service(resource("/setups/{id}/adjust").get(adjust::show).post(adjust::record))
        .route("/setups/{id}/charts", get().to(setup_charts::show))
        .service(resource("/machines/{code}/setups").get(setup::start::show).post(setup::start::begin))
        .service(resource("/setups/{id}").get(setup::overview::show))
        .service(
            resource("/setups/{id}/steps/first_piece_judged")
                .get(setup::judge::show_first_piece)
                .post(setup::judge::judge_first_piece),
        )
        .service(
            resource("/setups/{id}/steps/held_pieces_judged")
                .get(setup::judge::show_held_pieces)
                .post(setup::judge::judge_held_pieces),
        )
        .service(resource("/setups/{id}/steps/{step}").get(setup::machine::show).post(setup::machine::record))
        // After every other page of a setup: whatever else stands here is a station.
        .service(resource("/setups/{id}/{station}").get(setup::station::show).post(setup::station::record))
        .route("/machines", get().to(machines::show))
        .route("/live", get().to(machines::changes))
        .route("/machines/{code}", get().to(machine::show))
        .route("/machines/{code}/gauge", get().to(gauge::show))
        .service(resource("/machines/{code}/center-heights").get(center_heights::form).post(center_heights::record))
        .service(resource("/handover").get(handover::show).post(handover::accept))
        .route("/handover/{id}", get().to(handover::taken))
        .configure(register_office);
}

/// Registers the pages of the desk.
fn register_office(pages: &mut ServiceConfig) {
    pages
        .route("/due", get().to(due::show))
        .route("/tool-life", get().to(tool_life::show))
        .route("/tool-life/{code}", get().to(tool_life::of_code))
        .service(resource("/form-tools/{code}/regrinds").get(regrinds::form).post(regrinds::record))
        .service(resource("/form-tools/{code}/checks").get(tool_checks::form).post(tool_checks::record))
        .route("/center-gauges/{code}", get().to(drift::show))
        .service(resource("/center-gauges/{code}/checks").get(gauge_checks::form).post(gauge_checks::record))
        .service(resource("/holders/{code}/checks").get(holder_checks::form).post(holder_checks::record))
        .route("/impacts", get().to(impacts::show))
        .route("/impacts/{id}", get().to(impact::show))
        .service(resource("/impacts/{id}/update").get(impact::form).post(impact::take_up))
        .service(resource("/impacts/{id}/outcomes").get(impact::form).post(impact::judge))
        .service(resource("/impacts/{id}/close").get(impact::form).post(impact::close))
        .route("/jobs", get().to(jobs::show))
        .route("/jobs/{code}", get().to(job::show))
        .service(resource("/jobs/{code}/bookings").get(job::form).post(job::book))
        .service(resource("/jobs/{code}/bookings/cancel").get(job::form).post(job::let_go))
        .route("/supplies", get().to(supplies::show))
        .route("/supplies/{code}", get().to(supply::show))
        .service(resource("/supplies/{code}/withdrawals").get(supply::form).post(supply::withdraw))
        .service(resource("/supplies/{code}/receipts").get(supply::form).post(supply::receive))
        .service(resource("/supplies/{code}/counts").get(supply::form).post(supply::count))
        .route("/labels", get().to(labels::show))
        .route("/labels/paper.css", get().to(labels::paper))
        .route("/maintenance", get().to(maintenance::show))
        .route("/maintenance/reliability", get().to(maintenance::reliability))
        .service(resource("/work-orders/new").get(new_work_order::show).post(new_work_order::open))
        .route("/work-orders/{id}", get().to(work_order::show))
        .service(resource("/work-orders/{id}/start").get(work_order::step).post(work_order::start))
        .service(resource("/work-orders/{id}/done").get(work_order_end::ask_done).post(work_order_end::finish))
        .service(resource("/work-orders/{id}/cancel").get(work_order_end::ask_cancel).post(work_order_end::cancel))
        .service(resource("/tag-outs/new").get(tag_out::ask).post(tag_out::place))
        .route("/tag-outs/{id}", get().to(tag_out::show))
        .service(resource("/tag-outs/{id}/clear").get(tag_out::form).post(tag_out::clear))
        .route("/people", get().to(people::list))
        .service(resource("/people/new").get(people::ask).post(people::create))
        .service(resource("/people/{badge}").get(people::show).post(people::change))
        .service(resource("/people/{badge}/secret").get(people::form).post(people::renew))
        .service(resource("/settings").get(shop_settings::show).post(shop_settings::change));
}
