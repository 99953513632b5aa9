//! Who asks, and what they may: the permission stands in the handler's signature.
//!
//! [`Guarded`] is the only way for a handler to the database: without a permission named in its type there is no data
//! to reach.

use crate::{browser::BrowserSessions, cookie::NewCookie, problem::Problem, service::Service, tokens::SigningKeys};
use actix_web::{
    FromRequest, HttpMessage, HttpRequest,
    body::MessageBody,
    dev::{Payload, ServiceRequest, ServiceResponse},
    http::header,
    middleware::Next,
    web::Data,
};
use dovetally_core::{
    ids::{PersonId, SessionId},
    people::{Permission, Role, any_may},
    setup::facts::Actor,
};
use dovetally_db::{
    Database,
    sessions::{self, SignedIn},
};
use std::{
    future::{Ready, ready},
    marker::PhantomData,
};

/// A person or client who is signed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Principal {
    /// Who.
    pub person: PersonId,
    /// Their badge.
    pub badge: String,
    /// Their name.
    pub name: String,
    /// Their roles at this moment.
    pub roles: Vec<Role>,
    /// The session that the token belongs to.
    pub session: SessionId,
}

impl Principal {
    /// Whether their roles carry a permission.
    #[must_use]
    pub fn may(&self, permission: Permission) -> bool {
        any_may(&self.roles, permission)
    }

    /// Asks for a permission.
    ///
    /// # Errors
    /// 403 that names it.
    pub fn require(&self, permission: Permission) -> Result<(), Problem> {
        if self.may(permission) { Ok(()) } else { Err(Problem::forbidden(permission)) }
    }

    /// Whether this is a program: then every POST carries an idempotency key.
    #[must_use]
    pub fn is_integration(&self) -> bool {
        self.roles.contains(&Role::Integration)
    }

    /// As the rules of setups know them.
    #[must_use]
    pub fn actor(&self) -> Actor {
        Actor { person: self.person, roles: self.roles.clone() }
    }
}

/// The permissions that an operation asks for: any one of them lets the request in; where what it asks depends on the
/// body, the use case asks again.
pub trait Asks: 'static {
    /// Any of these.
    const ANY_OF: &'static [Permission];
}

macro_rules! asks {
    ($($(#[$doc:meta])* $name:ident = $($permission:ident)|+;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug)]
        pub struct $name;

        impl Asks for $name {
            const ANY_OF: &'static [Permission] = &[$(Permission::$permission),+];
        }
    )*};
}

asks! {
    /// Reads.
    Read = Read;
    /// Registry, parts and jobs.
    WriteRegistry = WriteRegistry;
    /// Keeping items for jobs.
    BookItems = BookItems;
    /// Custody: for anyone, or for oneself.
    Move = MoveForAnyone | MoveForOneself;
    /// Opening setups.
    RecordSetup = RecordSetup;
    /// Setup events: which of these depends on the kind.
    RecordEvent = RecordSetup | JudgeFirstPiece | CloseAnySetup | JudgeHeldPieces;
    /// Gauge checks.
    ControlGauges = ControlGauges;
    /// Grinds of form tools: of the shop's own grinders, or what somebody outside did.
    Grind = Grind | MoveForAnyone;
    /// Checking form tools.
    CheckTools = CheckTools;
    /// Checks of holders.
    CheckHolders = CheckHolders;
    /// Centre heights.
    Maintain = Maintain;
    /// Opening work orders: any, or for a breakdown.
    OpenOrder = Maintain | ReportFault;
    /// Supplies: records, receipts, counts.
    KeepSupplies = KeepSupplies;
    /// Withdrawing supplies: keeping them, or using them.
    WithdrawSupplies = KeepSupplies | Maintain;
    /// Placing a tag-out.
    PlaceTagOut = PlaceTagOut;
    /// Taking the floor over.
    TakeOver = TakeOver;
    /// Clearing a tag-out.
    ClearTagOut = ClearTagOut;
    /// Verifying the ledger.
    Audit = Audit;
    /// People and settings.
    Administer = Administer;
}

/// A request let in under the permissions that `A` asks for.
#[derive(Clone)]
pub struct Guarded<A> {
    /// Who asks.
    pub who: Principal,
    service: Service,
    asks: PhantomData<A>,
}

impl<A> Guarded<A> {
    /// The database.
    #[must_use]
    pub fn database(&self) -> &Database {
        self.service.database()
    }

    /// The keys that sign permits.
    #[must_use]
    pub fn keys(&self) -> &SigningKeys {
        self.service.keys()
    }

    /// The program's parts, for what signs people in.
    pub(crate) const fn service(&self) -> &Service {
        &self.service
    }
}

/// What the middleware found out about who asks, left for [`Guarded`].
struct Found(Result<Principal, Problem>);

/// The middleware, for `App::wrap(from_fn(authenticate_request))`: who asks is known before any extractor looks at the
/// request, so that whoever may not ask learns nothing about their body.
///
/// # Errors
/// Only what the inner service raised.
pub async fn authenticate_request<B: MessageBody>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let mut renewed = None;
    if request.headers().contains_key(header::AUTHORIZATION) {
        let found = match service(request.request()) {
            Ok(service) => authenticate(request.request(), &service).await,
            Err(problem) => Err(problem),
        };
        request.extensions_mut().insert(Found(found));
    } else if let Ok(service) = service(request.request())
        && service.browsers().has_cookie(request.request())
    {
        let found = match by_cookie(request.request(), &service).await {
            Ok((who, cookie)) => {
                renewed = cookie;
                Ok(who)
            }
            Err(problem) => Err(problem),
        };
        request.extensions_mut().insert(Found(found));
    }
    let mut response = next.call(request).await?;
    if let Some(cookie) = renewed
        // Signing out, or somebody else in, has set it already.
        && !response.headers().contains_key(header::SET_COOKIE)
    {
        response.headers_mut().append(header::SET_COOKIE, cookie.header());
    }
    Ok(response)
}

/// Reads a browser's cookie, and who stands behind its session now; and the cookie as it is to be written anew.
async fn by_cookie(request: &HttpRequest, service: &Service) -> Result<(Principal, Option<NewCookie>), Problem> {
    let now = service.database().now();
    let seen = service.browsers().session(request, service.keys(), now)?;
    let session = seen.session;
    let found = service.database().read(move |c| sessions::signed_in(c, session, now)).await?;
    let Some(SignedIn { person, badge, name, roles }) = found else {
        return Err(Problem::invalid_token("the session has ended or the person is disabled"));
    };
    // What a page asks for by itself keeps nobody signed in: only what a person asks for does.
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let by_a_person = accept.contains("text/html") || !request.method().is_safe();
    let due = by_a_person && BrowserSessions::is_due(seen, now);
    let cookie = due.then(|| service.browsers().cookie(service.keys(), session, now)).transpose()?;
    Ok((Principal { person, badge, name, roles, session }, cookie))
}

impl<A: Asks> FromRequest for Guarded<A> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        // Ready at once: as the first argument of a handler it is judged before the others.
        ready(let_in(request))
    }
}

/// Lets a request in, once: whoever asked for it is taken out.
pub(crate) fn let_in<A: Asks>(request: &HttpRequest) -> Result<Guarded<A>, Problem> {
    let found = request.extensions_mut().remove::<Found>();
    let who = found.ok_or_else(Problem::unauthenticated)?.0?;
    if !A::ANY_OF.iter().any(|permission| who.may(*permission)) {
        return Err(Problem::forbidden(A::ANY_OF[0]));
    }
    Ok(Guarded { who, service: service(request)?, asks: PhantomData })
}

/// Whoever is signed in, if anybody is; leaves them for [`let_in`].
pub(crate) fn whoever(request: &HttpRequest) -> Option<Principal> {
    request.extensions().get::<Found>().and_then(|found| found.0.as_ref().ok().cloned())
}

/// The service behind a request, for the few operations that come before signing in.
pub(crate) fn service(request: &HttpRequest) -> Result<Service, Problem> {
    let data = request.app_data::<Data<Service>>();
    data.map(|data| data.get_ref().clone()).ok_or_else(|| Problem::internal("the service is not configured"))
}

/// Reads the bearer token and who stands behind its session now. Rights are read anew with each request: a disabled
/// person's token is worth nothing from that moment on.
pub(crate) async fn authenticate(request: &HttpRequest, service: &Service) -> Result<Principal, Problem> {
    let header = request.headers().get(header::AUTHORIZATION).ok_or_else(Problem::unauthenticated)?;
    let token = header
        .to_str()
        .ok()
        .and_then(|text| text.split_once(' '))
        .filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer"))
        .map(|(_, token)| token.trim())
        .ok_or_else(Problem::unauthenticated)?;
    let now = service.database().now();
    let bearer = service.tokens().verify(token, now).map_err(Problem::invalid_token)?;
    let session = bearer.session;
    let found = service.database().read(move |c| sessions::signed_in(c, session, now)).await?;
    match found {
        Some(found) if found.person == bearer.person => {
            Ok(Principal { person: found.person, badge: found.badge, name: found.name, roles: found.roles, session })
        }
        _ => Err(Problem::invalid_token("the session has ended or the person is disabled")),
    }
}
