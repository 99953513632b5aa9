//! What an operation has because of its method, its path and its security.

use super::{BEARER, PERMISSION, SESSIONS, responses};
use utoipa::openapi::{
    Header, Object, Ref, RefOr, Required, Response, Schema,
    extensions::Extensions,
    path::{HttpMethod, Operation, Parameter, ParameterBuilder, ParameterIn},
    response::Responses,
    schema::{ObjectBuilder, SchemaFormat, Type},
    security::SecurityRequirement,
};

/// Paths whose operations have no dry run and no idempotency key: they store nothing, or answer a secret.
const WITHOUT_WRITE_OPTIONS: &[&str] = &["/v1/auth/", "/v1/oauth/", "/v1/calculations/"];

/// Reusable parameters by name.
pub(super) fn parameters() -> Vec<(String, RefOr<Parameter>)> {
    let text = || ObjectBuilder::new().schema_type(Type::String);
    let header = |name: &str, schema: ObjectBuilder, required: Required, words: &str| {
        let built = ParameterBuilder::new().name(name).parameter_in(ParameterIn::Header).required(required);
        built.schema(Some(schema.build())).description(Some(words)).build()
    };
    let path = |name: &str, schema: Object, words: &str| {
        let built = ParameterBuilder::new().name(name).parameter_in(ParameterIn::Path).required(Required::True);
        built.schema(Some(schema)).description(Some(words)).build()
    };
    let code = || text().min_length(Some(1)).max_length(Some(64)).examples(["M-101"]).build();
    let id = || text().format(Some(SchemaFormat::Custom("uuid".to_owned()))).build();
    let key = text().pattern(Some("^\"?[A-Za-z0-9._:-]{1,64}\"?$")).min_length(Some(1)).max_length(Some(66));
    let validate_only = ParameterBuilder::new()
        .name("validate_only")
        .parameter_in(ParameterIn::Query)
        .required(Required::False)
        .description(Some(
            "Judge the request by the same preconditions and rules, store nothing, and answer what it would have done.",
        ))
        .schema(Some(ObjectBuilder::new().schema_type(Type::Boolean).default(Some(false.into())).build()))
        .build();
    let named = [
        ("Code", path("code", code(), "The thing's code, or its id.")),
        ("Id", path("id", id(), "The thing's id.")),
        ("Number", path("number", code(), "The job's number, or its id.")),
        ("System", path("system", code(), "The caller's own system, as it is known here.")),
        ("Key", path("key", text().min_length(Some(1)).build(), "The caller's own key.")),
        ("ValidateOnly", validate_only),
        (
            "IdempotencyKey",
            header(
                "Idempotency-Key",
                key,
                Required::False,
                "Names this piece of work: the same request with the same key has one effect, and the same answer for 7 \
                 days. Integration clients must send it.",
            ),
        ),
        (
            "IfMatch",
            header(
                "If-Match",
                text(),
                Required::False,
                "The ETag of the version that is changed. Required: without it, 428.",
            ),
        ),
        (
            "IfNoneMatch",
            header("If-None-Match", text(), Required::False, "The ETag the caller has: if it still holds, 304."),
        ),
    ];
    named.into_iter().map(|(name, parameter)| (name.to_owned(), RefOr::T(parameter))).collect()
}

/// Adds parameters and answers; what the handler documented itself stays as it is.
pub(super) fn apply(path: &str, method: &HttpMethod, operation: &mut Operation) {
    let permission = permission(operation);
    let secured = permission.is_some();
    let shown = match permission.as_deref() {
        None => "none",
        Some("") => "signed-in",
        Some(name) => name,
    };
    operation.extensions.get_or_insert_with(Extensions::default).insert(PERMISSION.to_owned(), shown.into());
    // Said and not left out: nobody has to be signed in.
    let security = operation.security.get_or_insert_with(Vec::new);
    let by_cookie: Vec<_> = security.iter().filter_map(roles).flat_map(sessions).collect();
    security.extend(by_cookie);

    let variables: Vec<&str> = path.split('{').skip(1).filter_map(|rest| rest.split('}').next()).collect();
    for variable in &variables {
        if !has_parameter(operation, variable) {
            match component_of(variable) {
                Some(component) => refer(operation, component),
                None => operation.parameters.get_or_insert_with(Vec::new).push(RefOr::T(undescribed(variable))),
            }
        }
    }
    let plain = WITHOUT_WRITE_OPTIONS.iter().any(|prefix| path.starts_with(prefix));
    let write = !matches!(method, HttpMethod::Get);
    let replaces = matches!(method, HttpMethod::Put | HttpMethod::Patch | HttpMethod::Delete) && !plain;
    // A path that ends in a variable names one resource; a setup's events are one resource too.
    let single = !write && secured && (path.ends_with('}') || path.ends_with("/events"));
    for (needed, name, parameter) in [
        (write && secured && !plain, "validate_only", "ValidateOnly"),
        (matches!(method, HttpMethod::Post) && secured && !plain, "Idempotency-Key", "IdempotencyKey"),
        (replaces, "If-Match", "IfMatch"),
        (single, "If-None-Match", "IfNoneMatch"),
    ] {
        if needed && !has_parameter(operation, name) {
            refer(operation, parameter);
        }
    }

    // The token endpoint answers errors in the form of RFC 6749, which its handler documents.
    let own_form = path.starts_with("/v1/oauth/");
    let body = operation.request_body.is_some();
    let by_key = path.contains("/by-key/");
    for (status, needed) in [
        (304, single),
        (400, !own_form),
        (401, secured || (plain && !own_form && path.starts_with("/v1/auth/"))),
        (403, secured),
        (404, !variables.is_empty()),
        (409, write && !plain),
        // An appended event may be bound to what was read.
        (412, replaces || (write && path.ends_with("/events"))),
        (413, body && !own_form),
        (415, body && !own_form),
        (422, body && !own_form),
        (428, replaces && !by_key),
        (429, path.starts_with("/v1/auth/") && !secured),
        (500, true),
        (503, path.starts_with("/v1/")),
        (507, write && !path.starts_with("/v1/calculations/")),
    ] {
        if needed {
            let response = || RefOr::Ref(Ref::from_response_name(responses::name(status)));
            operation.responses.responses.entry(status.to_string()).or_insert_with(response);
        }
    }
    if single {
        headed(&mut operation.responses, "200", "ETag", "The version of the resource, for If-Match and If-None-Match.");
    }
    if has_parameter(operation, "cursor") {
        headed(&mut operation.responses, "200", "Link", "The next page: `<…>; rel=\"next\"`. Absent on the last one.");
    }
    if !path.starts_with("/v1/auth/") {
        headed(&mut operation.responses, "201", "Location", "Where the new resource is.");
    }
}

/// The permission an operation asks for: the first role of its bearer requirement. `None` without security; empty when
/// being signed in is enough.
fn permission(operation: &Operation) -> Option<String> {
    let roles = roles(operation.security.as_ref()?.first()?)?;
    Some(roles.into_iter().next().unwrap_or_default())
}

/// The roles of a bearer requirement.
fn roles(requirement: &SecurityRequirement) -> Option<Vec<String>> {
    let requirement = serde_json::to_value(requirement).ok()?;
    serde_json::from_value(requirement.get(BEARER)?.clone()).ok()
}

/// What a token with these roles may, a browser's session may.
fn sessions(roles: Vec<String>) -> impl Iterator<Item = SecurityRequirement> {
    SESSIONS.into_iter().map(move |(scheme, ..)| SecurityRequirement::new(scheme, roles.clone()))
}

/// The component that documents a path variable.
fn component_of(variable: &str) -> Option<&'static str> {
    match variable {
        "code" => Some("Code"),
        "id" => Some("Id"),
        "number" => Some("Number"),
        "system" => Some("System"),
        "key" => Some("Key"),
        _ => None,
    }
}

/// A path variable that nobody described: at least the document is right about it.
fn undescribed(variable: &str) -> Parameter {
    ParameterBuilder::new()
        .name(variable)
        .parameter_in(ParameterIn::Path)
        .required(Required::True)
        .schema(Some(ObjectBuilder::new().schema_type(Type::String).build()))
        .build()
}

fn has_parameter(operation: &Operation, name: &str) -> bool {
    let named = |parameter: &RefOr<Parameter>| matches!(parameter, RefOr::T(parameter) if parameter.name == name);
    operation.parameters.iter().flatten().any(named)
}

fn refer(operation: &mut Operation, component: &str) {
    let reference = Ref::new(format!("#/components/parameters/{component}"));
    operation.parameters.get_or_insert_with(Vec::new).push(RefOr::Ref(reference));
}

fn headed(responses: &mut Responses, status: &str, name: &str, words: &str) {
    if let Some(RefOr::T(Response { headers, .. })) = responses.responses.get_mut(status) {
        let text: RefOr<Schema> = ObjectBuilder::new().schema_type(Type::String).into();
        let mut header = Header::new(text);
        header.description = Some(words.to_owned());
        headers.entry(name.to_owned()).or_insert_with(|| RefOr::T(header));
    }
}
