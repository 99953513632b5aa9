//! The HTTP server: every request passes the same layers, and every answer leaves in the same form.

use crate::{
    config::Config,
    docs::{self, ServedDocument},
    live::Live,
    methods::{Methods, unmatched},
    openapi::document,
    pages,
    principal::authenticate_request,
    routes,
    security_headers::security_headers,
    service::{Parts, Service},
    throttle::Throttle,
    tokens::{AccessTokens, SigningKeys},
    trace::trace_request,
    upkeep,
};
use actix_web::{App, HttpServer, middleware::from_fn, web};
use dovetally_db::Database;
use futures_util::future::select;
use std::{io::Write, net::TcpListener, pin::pin, sync::Arc};
use utoipa_actix_web::{AppExt, service_config::ServiceConfig};

/// Accounts whose failed sign-ins are remembered.
const THROTTLED_ACCOUNTS: usize = 10_000;

/// The parts of the reference, in the order in which it shows them.
pub const TAGS: &[(&str, &str)] = &[
    ("auth", "Signing in and out; the keys that verify tokens and permits."),
    ("people", "People, their roles, their secrets."),
    ("settings", "The shop's choices that bear on setups."),
    ("rules", "Every rule that can refuse or block, with its words."),
    ("machines", "Machines, their stations and adjusters, their centre heights, and the gauge question."),
    ("tool-designs", "The forms that form tools are made to."),
    ("items", "Every serialised item in one view, with where it is and where it was."),
    ("form-tools", "Form tools: height left, grinds, checks, pieces, what is left, whose they are."),
    ("holders", "Holders, their screws and their checks."),
    ("center-gauges", "Centre gauges, each bound to one machine, their checks and their drift."),
    ("impacts", "What a gauge that was found wrong has touched, to be worked through."),
    ("places", "Bins, shelves, carts, addresses outside."),
    ("custody", "Handing out, taking back, passing on; the ledger."),
    ("parts", "Parts: what they ask of each station."),
    ("jobs", "Jobs: so many of a part, on a machine, from a day on."),
    ("setups", "The setup record, its events, and the run permit."),
    ("due", "Everything that is due or overdue, in one list."),
    ("gauge-uses", "What was set with which gauge, over the years."),
    ("planning", "What jobs need, what would serve them, what is missing, and what is kept for them."),
    ("tag-outs", "The record that a machine may not be used. A record, not a lock."),
    ("handovers", "How the floor stands, and who took it over when."),
    ("maintenance-plans", "What is to be done after how much use, and how that stands."),
    ("work-orders", "Work that is to be done or was; breakdowns; a machine's reliability."),
    ("supplies", "What is counted and not numbered: withdrawals, receipts, counts, when to order."),
    ("calculations", "From a measured size to turns of the right screw, and what else is calculated in the shop."),
    docs::TAG,
];

/// Every operation of the program, in the order of the document.
pub fn operations(config: &mut ServiceConfig<'_>) {
    routes::register(config);
    docs::operations(config);
}

/// Serves until the process is told to stop: what is under way is finished first.
///
/// # Errors
/// When the address cannot be bound or the keys cannot be read.
pub fn serve(config: &Config, database: Database, greet: impl FnOnce(&str)) -> Result<(), Box<dyn std::error::Error>> {
    let listener =
        TcpListener::bind(config.listen).map_err(|error| format!("cannot listen on {}: {error}", config.listen))?;
    let bound = listener.local_addr()?;
    let origin = config.origin(bound);
    let keys = Arc::new(SigningKeys::load_or_create(&config.data_folder)?);
    let live = Live::new();
    let service = Service::new(Parts {
        database: database.clone(),
        keys: Arc::clone(&keys),
        tokens: AccessTokens::new(keys, &origin, "dovetally", config.access_token_lifetime),
        passwords: crate::password::Passwords::new(config.hashing, config.workers)
            .map_err(|error| format!("secrets cannot be hashed: {error}"))?,
        throttle: Throttle::remembering(THROTTLED_ACCOUNTS),
        session_lifetime: config.session_lifetime,
        browsers: config.browsers(),
        live: live.clone(),
    });
    let api = document(operations, TAGS);
    let served = web::Data::new(ServedDocument::new(&api)?);
    let methods = web::Data::new(Methods::of(&api));
    let service = web::Data::new(service);
    actix_web::rt::System::new().block_on(async move {
        let server = HttpServer::new(move || {
            let (app, _) = App::new()
                .app_data(web::Data::clone(&service))
                .app_data(web::Data::clone(&served))
                .app_data(web::Data::clone(&methods))
                .into_utoipa_app()
                .configure(operations)
                .map(|app| app.configure(docs::reference).configure(pages::register))
                .split_for_parts();
            app.default_service(web::to(unmatched))
                .wrap(from_fn(pages::problems_as_pages))
                .wrap(from_fn(authenticate_request))
                .wrap(from_fn(security_headers))
                .wrap(from_fn(trace_request))
        })
        .workers(config.workers)
        .listen(listener)?
        .run();
        // The first line on standard output is what programs that start this one wait for.
        say(&format!("listening on http://{bound}"));
        greet(&origin);
        tokio::task::spawn_local(live.clone().run(database.clone()));
        tokio::task::spawn_local(end_when_told(live));
        tokio::task::spawn_local(upkeep::run(database));
        server.await?;
        Ok(())
    })
}

/// Ends the streams of open pages when the process is told to stop: the server waits for every answer that is under way.
async fn end_when_told(live: Live) {
    told_to_stop().await;
    live.stop();
}

#[cfg(unix)]
async fn told_to_stop() {
    use tokio::signal::unix::{SignalKind, signal};
    let interrupted = pin!(tokio::signal::ctrl_c());
    if let Ok(mut terminated) = signal(SignalKind::terminate()) {
        let _ = select(pin!(terminated.recv()), interrupted).await;
    } else {
        let _ = interrupted.await;
    }
}

#[cfg(not(unix))]
async fn told_to_stop() {
    let _ = tokio::signal::ctrl_c().await;
}

/// Writes a line for whoever started the program.
pub fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    // A closed output is nobody who wants to read it.
    let _ = writeln!(out, "{line}");
    let _ = out.flush();
}
