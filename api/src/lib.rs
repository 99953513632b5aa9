//! dovetally over HTTP: configuration, tokens, extractors, problem documents, routes and the server.

pub mod app;
pub mod cli;
pub mod commands;
pub mod conditional;
pub mod config;
pub mod demo;
pub mod docs;
pub mod extract;
pub mod methods;
pub mod open;
pub mod openapi;
pub mod page;
pub mod password;
pub mod principal;
pub mod problem;
pub mod routes;
pub mod security_headers;
pub mod server;
pub mod service;
pub mod throttle;
pub mod tokens;
pub mod trace;
pub mod transport;
pub mod upkeep;
