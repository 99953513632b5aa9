//! dovetally over HTTP: configuration, tokens, extractors, problem documents, routes and the server.

pub mod conditional;
pub mod extract;
pub mod page;
pub mod problem;
pub mod security_headers;
pub mod tokens;
pub mod trace;
