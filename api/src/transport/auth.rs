//! Signing in, on the wire.

use super::schema::RoleSchema;
use dovetally_core::people::Role;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a person signs in with. It holds a secret and so does not show itself.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"badge": "setter", "secret": "7kdm-q2wx-bt9n-HGs4-zr6v"}))]
pub struct Credentials {
    /// The badge's text, as it is: upper and lower case differ.
    #[schema(example = "setter")]
    pub badge: String,
    /// The secret.
    #[schema(format = Password)]
    pub secret: String,
}

/// A refresh token, to be changed for the next one. It is a secret and does not show itself.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"refresh_token": "dvr_3q2-7wAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"}))]
pub struct RefreshBody {
    /// The refresh token that came with the access token.
    #[schema(format = Password)]
    pub refresh_token: String,
}

/// A session's tokens. They are secrets and do not show themselves.
#[derive(Clone, Serialize, ToSchema)]
#[schema(as = Session, example = json!({
    "access_token": "eyJ0eXAiOiJhdCtqd3QiLCJhbGciOiJFZERTQSJ9.eyJpc3MiOiIifQ.c2ln", "token_type": "Bearer",
    "expires_in": 600, "refresh_token": "dvr_3q2-7wAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
    "person": {"badge": "setter", "name": "First setter", "roles": ["setter"]}
}))]
pub struct SessionView {
    /// Goes with each request: `Authorization: Bearer …`.
    pub access_token: String,
    /// How the access token is sent.
    #[schema(example = "Bearer")]
    pub token_type: &'static str,
    /// Seconds for which the access token is valid.
    #[schema(minimum = 0, example = 600)]
    pub expires_in: i64,
    /// Gets the next pair of tokens, once.
    pub refresh_token: String,
    /// Who is signed in.
    pub person: SignedInPerson,
}

/// Whoever is signed in.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SignedInPerson {
    /// Their badge.
    #[schema(example = "setter")]
    pub badge: String,
    /// Their name.
    #[schema(example = "First setter")]
    pub name: String,
    /// Their roles now.
    #[schema(value_type = Vec<RoleSchema>)]
    pub roles: Vec<Role>,
}

/// The public keys that verify what this server signs (RFC 7517).
#[derive(Serialize, ToSchema)]
#[schema(as = JwkSet, example = json!({"keys": [{
    "kty": "OKP", "crv": "Ed25519", "use": "sig", "alg": "EdDSA",
    "kid": "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k", "x": "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
}]}))]
pub struct JwkSetSchema {
    /// The keys, the one that signs now first.
    keys: Vec<JwkSchema>,
}

/// An Ed25519 public key (RFC 8037).
#[derive(Serialize, ToSchema)]
#[schema(as = Jwk)]
pub struct JwkSchema {
    /// The key's type.
    #[schema(example = "OKP")]
    kty: String,
    /// Its curve.
    #[schema(example = "Ed25519")]
    crv: String,
    /// What it is for.
    #[serde(rename = "use")]
    #[schema(example = "sig")]
    usage: String,
    /// The signature's algorithm.
    #[schema(example = "EdDSA")]
    alg: String,
    /// Its id: the key's thumbprint (RFC 7638).
    #[schema(example = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k")]
    kid: String,
    /// The public key, base64url.
    #[schema(example = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo")]
    x: String,
}
