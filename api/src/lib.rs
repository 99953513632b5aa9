//! dovetally over HTTP: configuration, tokens, extractors, problem documents, routes and the server.

pub mod cli;
pub mod conditional;
pub mod config;
pub mod docs;
pub mod extract;
pub mod methods;
pub mod openapi;
pub mod page;
pub mod password;
pub mod problem;
pub mod security_headers;
pub mod throttle;
pub mod tokens;
pub mod trace;
