//! The keys that sign: one in force, and older ones whose signatures are still believed.
//!
//! They live in the data folder. `signing-key.pem` signs; it is made on the first start. To change it, rename it to
//! `signing-key.<anything>.pem` and start again: what it signed stays valid until it expires or the file is deleted.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use ed25519_dalek::{
    SigningKey,
    pkcs8::{DecodePrivateKey, EncodePrivateKey, spki::der::pem::LineEnding},
};
use hmac::{Hmac, KeyInit, Mac};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Serialize, de::DeserializeOwned};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::{
    collections::BTreeMap,
    fmt, fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

const FILE: &str = "signing-key.pem";

/// Why there is no key, or it does not sign.
#[derive(Debug, thiserror::Error)]
pub enum KeyError {
    /// The file cannot be read or written.
    #[error("the signing key {path}: {cause}")]
    File {
        /// Which file.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// The file holds something else.
    #[error("{0} is not an Ed25519 private key in PKCS#8 PEM")]
    NotAKey(PathBuf),
    /// Others can read it.
    #[error("{0} can be read by others: make it readable for its owner only (mode 0600)")]
    Exposed(PathBuf),
    /// No randomness.
    #[error("the system gives no randomness: {0}")]
    Random(getrandom::Error),
    /// Signing failed.
    #[error("signing failed")]
    Signing,
}

/// A token that is not by these keys, for this use, or in this form. For the log.
#[derive(Debug, thiserror::Error)]
pub enum Unverified {
    /// Its header names another type, an extension we do not know, or no key.
    #[error("the token's header is not one of ours")]
    Header,
    /// Its key is not one of ours.
    #[error("the token's key is unknown")]
    Key,
    /// Its signature or claims.
    #[error("the token: {0}")]
    Token(#[from] jsonwebtoken::errors::Error),
}

/// The signing key in force and all keys whose signatures are believed.
pub struct SigningKeys {
    key_id: String,
    signing: EncodingKey,
    believed: BTreeMap<String, DecodingKey>,
    public: Value,
    refresh: [u8; 32],
}

impl fmt::Debug for SigningKeys {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SigningKeys").field("key_id", &self.key_id).finish_non_exhaustive()
    }
}

impl SigningKeys {
    /// Loads the keys of a data folder; makes the first one.
    ///
    /// # Errors
    /// [`KeyError`], with the file.
    pub fn load_or_create(folder: &Path) -> Result<Self, KeyError> {
        let path = folder.join(FILE);
        if !path.exists() {
            create(&path)?;
        }
        let current = read(&path)?;
        let mut older = Vec::new();
        let listing = |cause| KeyError::File { path: folder.to_owned(), cause };
        for entry in fs::read_dir(folder).map_err(listing)? {
            let entry = entry.map_err(listing)?;
            let name = entry.file_name();
            let name = name.to_string_lossy();
            if name != FILE && name.starts_with("signing-key.") && name.ends_with(".pem") {
                older.push(read(&entry.path())?);
            }
        }
        Self::of(&current, &older)
    }

    /// Keys made of a seed, for tests and for shops that keep it elsewhere.
    ///
    /// # Errors
    /// When the key cannot be encoded.
    pub fn from_seed(seed: &[u8; 32]) -> Result<Self, KeyError> {
        Self::of(&SigningKey::from_bytes(seed), &[])
    }

    fn of(current: &SigningKey, older: &[SigningKey]) -> Result<Self, KeyError> {
        let der = current.to_pkcs8_der().map_err(|_| KeyError::Signing)?;
        let mut believed = BTreeMap::new();
        let mut public = Vec::new();
        for key in std::iter::once(current).chain(older) {
            let bytes = key.verifying_key().to_bytes();
            let (id, x) = (thumbprint(&bytes), URL_SAFE_NO_PAD.encode(bytes));
            if believed.insert(id.clone(), DecodingKey::from_ed_der(&bytes)).is_none() {
                public.push(json!({"kty": "OKP", "crv": "Ed25519", "use": "sig", "alg": "EdDSA", "kid": id, "x": x}));
            }
        }
        let mut derived = Hmac::<Sha256>::new_from_slice(current.as_bytes()).map_err(|_| KeyError::Signing)?;
        derived.update(b"dovetally refresh tokens, version 1");
        Ok(Self {
            key_id: thumbprint(current.verifying_key().as_bytes()),
            signing: EncodingKey::from_ed_der(der.as_bytes()),
            believed,
            public: json!({"keys": public}),
            refresh: derived.finalize().into_bytes().into(),
        })
    }

    /// The id of the key in force: its JWK thumbprint (RFC 7638).
    #[must_use]
    pub fn key_id(&self) -> &str {
        &self.key_id
    }

    /// The public keys as a JWK set (RFC 7517), the one in force first.
    #[must_use]
    pub fn jwks(&self) -> &Value {
        &self.public
    }

    /// The key by which refresh tokens are derived from one another. All processes of one shop need the same.
    #[must_use]
    pub const fn refresh_key(&self) -> &[u8; 32] {
        &self.refresh
    }

    /// Signs claims as a compact JWT of a type: access tokens, permits, receipts.
    ///
    /// # Errors
    /// [`KeyError::Signing`].
    pub fn sign<T: Serialize>(&self, media_type: &str, claims: &T) -> Result<String, KeyError> {
        let mut header = Header::new(Algorithm::EdDSA);
        header.typ = Some(media_type.to_owned());
        header.kid = Some(self.key_id.clone());
        jsonwebtoken::encode(&header, claims, &self.signing).map_err(|_| KeyError::Signing)
    }

    /// Verifies everything but the times, which the caller compares with its own clock.
    ///
    /// # Errors
    /// [`Unverified`], for the log.
    pub fn verify<T: DeserializeOwned>(
        &self,
        token: &str,
        media_type: &str,
        issuer: &str,
        audience: &str,
    ) -> Result<T, Unverified> {
        let header = jsonwebtoken::decode_header(token)?;
        if header.typ.as_deref() != Some(media_type) || header.crit.is_some() {
            return Err(Unverified::Header);
        }
        let key = header.kid.as_deref().and_then(|id| self.believed.get(id)).ok_or(Unverified::Key)?;
        let mut validation = Validation::new(Algorithm::EdDSA);
        validation.set_required_spec_claims(&["iss", "aud", "exp", "nbf", "sub"]);
        validation.set_issuer(&[issuer]);
        validation.set_audience(&[audience]);
        validation.validate_exp = false;
        validation.validate_nbf = false;
        Ok(jsonwebtoken::decode(token, key, &validation)?.claims)
    }
}

/// RFC 7638 with the members that RFC 8037 names: the SHA-256 of the key's required members in lexical order.
fn thumbprint(public: &[u8; 32]) -> String {
    let members = format!(r#"{{"crv":"Ed25519","kty":"OKP","x":"{}"}}"#, URL_SAFE_NO_PAD.encode(public));
    URL_SAFE_NO_PAD.encode(Sha256::digest(members))
}

fn read(path: &Path) -> Result<SigningKey, KeyError> {
    let text = fs::read_to_string(path).map_err(|cause| KeyError::File { path: path.to_owned(), cause })?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let status = fs::metadata(path).map_err(|cause| KeyError::File { path: path.to_owned(), cause })?;
        if status.permissions().mode() & 0o077 != 0 {
            return Err(KeyError::Exposed(path.to_owned()));
        }
    }
    SigningKey::from_pkcs8_pem(&text).map_err(|_| KeyError::NotAKey(path.to_owned()))
}

/// Makes a key. It is written under another name and linked to its own, so that two processes that start at once end up
/// with one key, and neither reads half of it.
fn create(path: &Path) -> Result<(), KeyError> {
    let file = |cause| KeyError::File { path: path.to_owned(), cause };
    let mut seed = [0; 32];
    getrandom::fill(&mut seed).map_err(KeyError::Random)?;
    let text = SigningKey::from_bytes(&seed).to_pkcs8_pem(LineEnding::LF).map_err(|_| KeyError::Signing)?;
    let draft = path.with_extension(format!("new-{:016x}", getrandom::u64().map_err(KeyError::Random)?));
    let written = write_private(&draft, text.as_bytes()).and_then(|()| match fs::hard_link(&draft, path) {
        Err(cause) if cause.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        linked => linked,
    });
    fs::remove_file(&draft).map_err(file)?;
    written.map_err(file)
}

fn write_private(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    file.write_all(bytes)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::{KeyError, SigningKeys, thumbprint};
    use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
    use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, crypto};
    use serde_json::{Value, json};
    use std::fs;

    // RFC 8037, appendix A (recalled).
    const D: &str = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A";
    const X: &str = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo";
    const THUMBPRINT: &str = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k";
    const MESSAGE: &str = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc";
    const SIGNATURE: &str = "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg";

    fn bytes(text: &str) -> [u8; 32] {
        URL_SAFE_NO_PAD.decode(text).unwrap().try_into().unwrap()
    }

    #[test]
    fn the_vectors_of_rfc_8037() {
        let keys = SigningKeys::from_seed(&bytes(D)).unwrap();
        assert_eq!(keys.jwks()["keys"][0]["x"], X);
        assert_eq!(thumbprint(&bytes(X)), THUMBPRINT);
        assert_eq!(keys.key_id(), THUMBPRINT);
        let signature = crypto::sign(MESSAGE.as_bytes(), &keys.signing, Algorithm::EdDSA).unwrap();
        assert_eq!(signature, SIGNATURE);
        let public = DecodingKey::from_ed_components(X).unwrap();
        assert!(crypto::verify(SIGNATURE, MESSAGE.as_bytes(), &public, Algorithm::EdDSA).unwrap());
        let _: &EncodingKey = &keys.signing;
    }

    #[test]
    fn the_key_set_has_no_private_part() {
        let keys = SigningKeys::from_seed(&bytes(D)).unwrap();
        let expected = json!({"keys": [{
            "kty": "OKP", "crv": "Ed25519", "use": "sig", "alg": "EdDSA", "kid": THUMBPRINT, "x": X,
        }]});
        assert_eq!(keys.jwks(), &expected);
        assert!(!format!("{keys:?}").contains(D));
    }

    fn claims() -> Value {
        json!({"iss": "i", "aud": "a", "exp": 1, "nbf": 1, "sub": "s"})
    }

    #[test]
    fn a_folder_keeps_its_key_and_believes_the_ones_before() {
        let folder = tempfile::tempdir().unwrap();
        let first = SigningKeys::load_or_create(folder.path()).unwrap();
        let again = SigningKeys::load_or_create(folder.path()).unwrap();
        assert_eq!((first.key_id(), first.refresh_key()), (again.key_id(), again.refresh_key()));
        let token = first.sign("t", &claims()).unwrap();

        let file = folder.path().join("signing-key.pem");
        fs::rename(&file, folder.path().join("signing-key.2026.pem")).unwrap();
        let second = SigningKeys::load_or_create(folder.path()).unwrap();
        assert_ne!(first.key_id(), second.key_id());
        assert_eq!(second.jwks()["keys"].as_array().unwrap().len(), 2);
        assert_eq!(second.jwks()["keys"][0]["kid"], second.key_id());
        assert_eq!(second.verify::<Value>(&token, "t", "i", "a").unwrap(), claims());

        fs::remove_file(folder.path().join("signing-key.2026.pem")).unwrap();
        let third = SigningKeys::load_or_create(folder.path()).unwrap();
        assert_eq!(third.key_id(), second.key_id());
        assert!(third.verify::<Value>(&token, "t", "i", "a").is_err());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "drafts are gone");
    }

    #[cfg(unix)]
    #[test]
    fn a_key_that_others_can_read_is_refused() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        SigningKeys::load_or_create(folder.path()).unwrap();
        let file = folder.path().join("signing-key.pem");
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
        fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
        assert!(matches!(SigningKeys::load_or_create(folder.path()), Err(KeyError::Exposed(_))));
    }

    #[test]
    fn what_is_not_a_key_is_told_and_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        SigningKeys::load_or_create(folder.path()).unwrap();
        let file = folder.path().join("signing-key.pem");
        fs::write(&file, "not a key").unwrap();
        assert!(matches!(SigningKeys::load_or_create(folder.path()), Err(KeyError::NotAKey(_))));
        assert_eq!(fs::read_to_string(&file).unwrap(), "not a key");
    }

    #[test]
    fn processes_that_start_at_once_have_one_key() {
        let folder = tempfile::tempdir().unwrap();
        let start = std::sync::Barrier::new(8);
        let ids: Vec<String> = std::thread::scope(|scope| {
            let load = || {
                start.wait();
                SigningKeys::load_or_create(folder.path()).unwrap().key_id().to_owned()
            };
            let threads: Vec<_> = (0..8).map(|_| scope.spawn(load)).collect();
            threads.into_iter().map(|thread| thread.join().unwrap()).collect()
        });
        assert!(ids.iter().all(|id| *id == ids[0]), "{ids:?}");
    }
}
