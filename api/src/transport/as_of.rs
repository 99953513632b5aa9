//! Reading the records as they stood.

use chrono::{DateTime, Utc};
use serde::Deserialize;
use utoipa::IntoParams;

/// The instant for which a read is asked.
#[derive(Clone, Copy, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AsOf {
    /// As the records stood at this recorded instant, inclusive; now when it is left out. The future is refused.
    #[serde(default, deserialize_with = "super::time::optional_instant")]
    #[param(value_type = Option<chrono::DateTime<chrono::Utc>>)]
    pub as_of: Option<DateTime<Utc>>,
}
