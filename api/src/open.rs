//! The way in for the few operations that come before signing in: signing in itself, the public keys, whether the
//! server is ready. Everything else goes through [`crate::principal::Guarded`].

use crate::{principal::service, problem::Problem, service::Service};
use actix_web::{FromRequest, HttpRequest, dev::Payload};
use std::future::{Ready, ready};

/// The service without a permission.
#[derive(Clone)]
pub struct Open(Service);

impl Open {
    /// The parts of the running program.
    #[must_use]
    pub const fn service(&self) -> &Service {
        &self.0
    }
}

impl FromRequest for Open {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(service(request).map(Self))
    }
}
