//! Routes: each parses, asks for its permission in its signature, and calls one use case.

mod auth;
mod calculations;
mod center_gauges;
mod center_heights;
mod custody;
mod due;
mod form_tools;
mod gauge_control;
mod gauge_question;
mod gauge_uses;
mod handovers;
mod health;
mod holders;
mod impacts;
mod items;
mod jobs;
mod machines;
mod maintenance_plans;
mod parts;
mod people;
mod places;
mod planning;
mod rules;
mod settings;
mod setups;
mod supplies;
mod tag_outs;
mod tool_designs;
mod tool_life;
mod work_orders;

use utoipa_actix_web::service_config::ServiceConfig;

/// Every route; registering one here is documenting it.
pub fn register(routes: &mut ServiceConfig<'_>) {
    auth::register(routes);
    people::register(routes);
    settings::register(routes);
    rules::register(routes);
    machines::register(routes);
    center_heights::register(routes);
    gauge_question::register(routes);
    gauge_uses::register(routes);
    tool_designs::register(routes);
    items::register(routes);
    form_tools::register(routes);
    tool_life::register(routes);
    holders::register(routes);
    center_gauges::register(routes);
    gauge_control::register(routes);
    impacts::register(routes);
    places::register(routes);
    custody::register(routes);
    parts::register(routes);
    jobs::register(routes);
    planning::register(routes);
    setups::register(routes);
    tag_outs::register(routes);
    handovers::register(routes);
    maintenance_plans::register(routes);
    work_orders::register(routes);
    supplies::register(routes);
    calculations::register(routes);
    due::register(routes);
    health::register(routes);
}
