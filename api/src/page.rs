//! Lists in pages, by keyset: a cursor says after which key the next page begins, so that a walk during inserts misses
//! and repeats nothing that was there before.
//!
//! A cursor is opaque, carries a version and is bound to the list and its filters. It holds no right and no secret: it
//! says where to go on, and the request's own permission is checked each time.

use crate::{
    extract::{NoFields, claim, fields, rest},
    problem::Problem,
};
use actix_web::{FromRequest, HttpRequest, HttpResponse, dev::Payload, http::header};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::future::{Ready, ready};
use utoipa::{IntoParams, ToSchema};

/// The most items of a page.
pub const MAX_LIMIT: u16 = 200;
/// The items of a page when nobody says.
pub const DEFAULT_LIMIT: u16 = 50;

const VERSION: u8 = 1;

/// Rows, each with the key after which the next page of its list begins.
pub type Keyed<K, T> = Vec<(K, T)>;

/// One page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct Page<T> {
    /// The items, in the list's order.
    pub items: Vec<T>,
    /// The cursor of the next page; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(required = false, nullable = false)]
    pub next_cursor: Option<String>,
}

/// What a cursor says.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cursor {
    /// Version.
    v: u8,
    /// Which list with which filters.
    l: String,
    /// The last key of the page before.
    k: Value,
}

/// How a list is to be walked. `Q` are the list's filters.
#[derive(Clone, Debug)]
pub struct Paging<Q = NoFields> {
    /// The list's own query fields.
    pub filters: Q,
    limit: u16,
    after: Option<Value>,
    /// Binds cursors: a digest of the path and the filters as given.
    list: String,
    path: String,
    query: Vec<(String, String)>,
}

/// Whether a key holds a year before 0000 or after 9999, which are written with a sign: no row has one, and a database
/// refuses to be asked for it. No code and no id begins with a sign.
fn is_off_the_calendar(key: &Value) -> bool {
    match key {
        Value::String(text) => text.starts_with(['+', '-']),
        Value::Array(parts) => parts.iter().any(is_off_the_calendar),
        _ => false,
    }
}

impl<Q> Paging<Q> {
    /// The most items of this page.
    #[must_use]
    pub const fn limit(&self) -> u16 {
        self.limit
    }

    /// How many rows to fetch: one more than the page has, to know whether there is a next one.
    #[must_use]
    pub fn rows_to_fetch(&self) -> i64 {
        i64::from(self.limit) + 1
    }

    /// The key after which this page begins; `None` on the first.
    ///
    /// # Errors
    /// 400 when the cursor's key is not of this list's kind.
    pub fn after<K: DeserializeOwned>(&self) -> Result<Option<K>, Problem> {
        if self.after.as_ref().is_some_and(is_off_the_calendar) {
            return Err(Problem::cursor());
        }
        self.after.clone().map(serde_json::from_value).transpose().map_err(|_| Problem::cursor())
    }

    /// The page of these rows, which were fetched after [`Paging::after`] and are at most [`Paging::rows_to_fetch`].
    /// `key` gives a row's place in the order, `show` what is answered of it.
    ///
    /// # Errors
    /// 500 when a key cannot be shown as JSON.
    pub fn page<R, K: Serialize, T>(
        &self,
        mut rows: Vec<R>,
        key: impl Fn(&R) -> K,
        show: impl FnMut(R) -> T,
    ) -> Result<Page<T>, Problem> {
        let more = rows.len() > usize::from(self.limit);
        rows.truncate(usize::from(self.limit));
        let next_cursor = match rows.last() {
            Some(last) if more => {
                let k = serde_json::to_value(key(last)).map_err(Problem::internal)?;
                let cursor = Cursor { v: VERSION, l: self.list.clone(), k };
                Some(URL_SAFE_NO_PAD.encode(serde_json::to_vec(&cursor).map_err(Problem::internal)?))
            }
            _ => None,
        };
        Ok(Page { items: rows.into_iter().map(show).collect(), next_cursor })
    }

    /// Answers a page, with its `Link` to the next.
    ///
    /// # Errors
    /// 500 when the link cannot be written.
    pub fn answer<T: Serialize>(&self, page: &Page<T>) -> Result<HttpResponse, Problem> {
        let mut response = HttpResponse::Ok();
        response.insert_header((header::CACHE_CONTROL, "private, no-cache"));
        if let Some(next) = self.next(page)? {
            response.insert_header((header::LINK, format!("<{next}>; rel=\"next\"")));
        }
        Ok(response.json(page))
    }

    /// The address of the next page, where there is one.
    ///
    /// # Errors
    /// 500 when it cannot be written.
    pub fn next<T>(&self, page: &Page<T>) -> Result<Option<String>, Problem> {
        let Some(cursor) = &page.next_cursor else { return Ok(None) };
        let mut query = self.query.clone();
        query.push(("cursor".to_owned(), cursor.clone()));
        let query = serde_urlencoded::to_string(query).map_err(Problem::internal)?;
        Ok(Some(format!("{}?{query}", self.path)))
    }
}

impl<Q: DeserializeOwned> Paging<Q> {
    fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let mut fields = fields(request.query_string())?;
        let cursor = claim(&mut fields, "cursor");
        let query = fields.clone();
        let limit = match claim(&mut fields, "limit") {
            None => DEFAULT_LIMIT,
            Some(text) => match text.parse() {
                Ok(limit @ 1..=MAX_LIMIT) => limit,
                _ => return Err(Problem::query("limit", format!("\"limit\" is a number from 1 to {MAX_LIMIT}"))),
            },
        };
        let list = digest(request.path(), &fields);
        let after = cursor.map(|text| opened(&text, &list)).transpose()?;
        let path = request.uri().path().to_owned();
        Ok(Self { filters: rest(&fields)?, limit, after, list, path, query })
    }
}

/// Which list with which filters; the order of the filters does not matter.
fn digest(path: &str, filters: &[(String, String)]) -> String {
    let mut filters: Vec<_> = filters.iter().collect();
    filters.sort();
    let mut hash = Sha256::new();
    for text in std::iter::once(path).chain(filters.iter().flat_map(|(name, value)| [name.as_str(), value.as_str()])) {
        hash.update((text.len() as u64).to_be_bytes());
        hash.update(text);
    }
    // 96 bits tell lists apart; nobody gains anything by a collision.
    URL_SAFE_NO_PAD.encode(hash.finalize().get(..12).unwrap_or_default())
}

fn opened(text: &str, list: &str) -> Result<Value, Problem> {
    // A key is a few short texts and numbers: no cursor of ours comes near this.
    if text.len() > 2048 {
        return Err(Problem::cursor());
    }
    let bytes = URL_SAFE_NO_PAD.decode(text).map_err(|_| Problem::cursor())?;
    let cursor: Cursor = serde_json::from_slice(&bytes).map_err(|_| Problem::cursor())?;
    if cursor.v != VERSION || cursor.l != list {
        return Err(Problem::cursor());
    }
    Ok(cursor.k)
}

impl<Q: DeserializeOwned> FromRequest for Paging<Q> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(Self::of(request))
    }
}

/// The query fields of every list, for its documentation: `params(PageParameters)`.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "it documents the fields that Paging reads")]
pub struct PageParameters {
    /// The most items of the page.
    #[param(required = false, minimum = 1, maximum = 200, default = 50)]
    limit: Option<u16>,
    /// Where to go on: the `next_cursor` of the page before, as it was given.
    #[param(required = false, max_length = 2048)]
    cursor: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::{Paging, URL_SAFE_NO_PAD};
    use crate::problem::Problem;
    use actix_web::{FromRequest, http::header, test::TestRequest};
    use base64::Engine;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only their parsing is looked at")]
    struct Filters {
        kind: Option<String>,
        person: Option<String>,
    }

    fn paging(uri: &str) -> Result<Paging<Filters>, Problem> {
        let (request, mut payload) = TestRequest::get().uri(uri).to_http_parts();
        Paging::from_request(&request, &mut payload).into_inner()
    }

    /// One page over the numbers 1 to `n`: its numbers and the link to the next.
    fn walk(uri: &str, numbers: u32) -> (Vec<u32>, Option<String>) {
        let paging = paging(uri).unwrap();
        let after = paging.after::<u32>().unwrap().unwrap_or(0);
        let rows = (after + 1..=numbers).take(usize::try_from(paging.rows_to_fetch()).unwrap()).collect();
        let page = paging.page(rows, |n| *n, |n| n).unwrap();
        let answer = paging.answer(&page).unwrap();
        let link = answer.headers().get(header::LINK).map(|link| {
            let link = link.to_str().unwrap().strip_suffix(">; rel=\"next\"").unwrap();
            link.strip_prefix('<').unwrap().to_owned()
        });
        assert_eq!(link.is_some(), page.next_cursor.is_some());
        (page.items, link)
    }

    #[test]
    fn a_walk_by_links_sees_everything_once_also_when_rows_are_added() {
        let (mut seen, mut numbers) = (Vec::new(), 7);
        let mut next = Some("/v1/items?kind=a%26b&limit=3".to_owned());
        while let Some(uri) = next.take() {
            let (items, link) = walk(&uri, numbers);
            seen.extend(items);
            next = link;
            numbers += 1;
        }
        assert_eq!(seen, (1..=9).collect::<Vec<_>>());
    }

    #[test]
    fn an_exact_fit_has_no_next_page() {
        assert_eq!(walk("/v1/items?limit=3", 3), (vec![1, 2, 3], None));
        assert_eq!(walk("/v1/items", 0), (vec![], None));
        assert!(walk("/v1/items?limit=3", 4).1.is_some());
    }

    #[test]
    fn limits_have_bounds() {
        assert_eq!(paging("/v1/items").unwrap().limit(), 50);
        assert_eq!(paging("/v1/items?limit=200").unwrap().limit(), 200);
        for bad in ["0", "201", "-1", "1.5", "", "99999999999", "5&limit=5"] {
            assert_eq!(
                paging(&format!("/v1/items?limit={bad}")).unwrap_err().code().code(),
                "malformed-query",
                "{bad}"
            );
        }
    }

    #[test]
    fn a_cursor_serves_only_its_own_list_and_filters() {
        let page = paging("/v1/items?kind=a&person=b&limit=1").unwrap().page(vec![1, 2], |n| *n, |n| n).unwrap();
        let cursor = page.next_cursor.unwrap();
        let again = |uri: &str| paging(&format!("{uri}cursor={cursor}")).map(|paging| paging.after::<u32>().unwrap());
        // Another page size and another order of the same filters are the same list.
        assert_eq!(again("/v1/items?person=b&kind=a&limit=9&").unwrap(), Some(1));
        for other in ["/v1/items?", "/v1/items?kind=a&", "/v1/items?kind=b&person=a&", "/v1/tools?kind=a&person=b&"] {
            assert_eq!(again(other).unwrap_err().code().code(), "malformed-cursor", "{other}");
        }
    }

    #[test]
    fn a_damaged_cursor_is_told() {
        let page = paging("/v1/items?limit=1").unwrap().page(vec![1, 2], |n| *n, |n| n).unwrap();
        let good = page.next_cursor.unwrap();
        let text = String::from_utf8(URL_SAFE_NO_PAD.decode(&good).unwrap()).unwrap();
        let older = URL_SAFE_NO_PAD.encode(text.replace("\"v\":1", "\"v\":0"));
        let longer = URL_SAFE_NO_PAD.encode(text.replace("\"k\":1", "\"k\":1,\"x\":1"));
        for bad in ["", "x", "e30", &good[..good.len() - 2], &format!("{good}AA"), &older, &longer, &"A".repeat(4000)] {
            let problem = paging(&format!("/v1/items?cursor={bad}")).unwrap_err();
            assert_eq!(problem.code().code(), "malformed-cursor", "{bad}");
        }
        let kind = URL_SAFE_NO_PAD.encode(text.replace("\"k\":1", "\"k\":\"x\""));
        let paging = paging(&format!("/v1/items?cursor={kind}")).unwrap();
        assert_eq!(paging.after::<u32>().unwrap_err().code().code(), "malformed-cursor");
    }
}
