//! The calculations, for people: a page each with formula, conventions, sources and an example that is calculated when
//! the page is served, so that it never tells what the program no longer does.

mod fields;
mod laid_out;

use crate::{
    conditional::ETag,
    extract::{IfNoneMatch, NoFields, Query},
    problem::Problem,
};
use actix_web::{HttpResponse, http::header, web};
use askama::Template;
use dovetally_core::calc::{self, Entry};
use fields::{Field, fields};
use laid_out::{field, laid_out};
use serde::Deserialize;
use serde_json::Value;

/// Registers the pages. They have no `OpenAPI` operations: they are for reading, without signing in.
pub(super) fn register(config: &mut web::ServiceConfig) {
    config
        .route("/docs/calculations", web::get().to(all))
        .route("/docs/calculations/style.css", web::get().to(style))
        .route("/docs/calculations/{name}", web::get().to(one));
}

/// The page of one calculation.
struct Page {
    /// The calculation's name on the wire.
    name: &'static str,
    /// What people call it.
    title: &'static str,
    /// Its purpose, formulas and limits, as HTML.
    text: &'static str,
}

/// Pages for the same people.
struct Group {
    id: &'static str,
    title: &'static str,
    for_whom: &'static str,
    pages: &'static [Page],
}

macro_rules! page {
    ($name:literal, $title:literal) => {
        Page {
            name: $name,
            title: $title,
            text: include_str!(concat!("../../templates/docs/calculations/", $name, ".html")),
        }
    };
}

const GROUPS: &[Group] = &[
    Group {
        id: "machine",
        title: "At the machine",
        for_whom: "For the setter: from a measured size to turns of the right screw.",
        pages: &[
            page!("slide-correction", "Slide correction"),
            page!("taper", "Taper"),
            page!("lateral-correction", "Lateral correction"),
            page!("drill-depth", "Drill depth"),
            page!("form-diagnosis", "Form diagnosis"),
            page!("setting-adjustment", "Setting adjustment"),
            page!("center-height-effect", "Effect of the centre height"),
            page!("approach", "Approach"),
            page!("screw-travel", "Screw travel"),
        ],
    },
    Group {
        id: "bench",
        title: "At the tool grinder and the measuring bench",
        for_whom: "For the toolmaker and the inspector: what to grind, and what a measurement proves.",
        pages: &[
            page!("flat-form-profile", "Profile of a flat form tool"),
            page!("circular-form-profile", "Profile of a circular form tool"),
            page!("regrind-outlook", "Regrind outlook"),
            page!("thermal", "Size at 20 °C"),
            page!("gauge-conformity", "Gauge conformity"),
            page!("uncertainty-budget", "Uncertainty budget"),
        ],
    },
    Group {
        id: "run",
        title: "Over the run",
        for_whom: "For whoever keeps the size: what drifts, what scatters, and when to act.",
        pages: &[
            page!("control-limits", "Control limits"),
            page!("wear-trend", "Wear trend"),
            page!("capability", "Capability"),
        ],
    },
    Group {
        id: "office",
        title: "In planning and the office",
        for_whom: "For the planner and the buyer: times, stock, tool life and spares.",
        pages: &[
            page!("cutting", "Cutting"),
            page!("bar-stock", "Bar stock"),
            page!("tool-life", "Tool life"),
            page!("life-distribution", "Life distribution"),
            page!("mtbf", "Mean time between failures"),
            page!("intermittent-demand", "Intermittent demand"),
            page!("reorder", "Reorder"),
        ],
    },
];

fn pages() -> impl Iterator<Item = &'static Page> {
    GROUPS.iter().flat_map(|group| group.pages)
}

impl Page {
    /// What its calculation answers.
    fn answers(&self) -> &'static str {
        calc::find(self.name).map_or("", |entry| entry.answers)
    }
}

/// The conventions, and all pages by who uses them.
#[derive(Template)]
#[template(path = "docs/index.html")]
struct Index {
    groups: &'static [Group],
}

/// One page with its example.
#[derive(Template)]
#[template(path = "docs/page.html")]
struct Whole {
    page: &'static Page,
    entry: &'static Entry,
    /// What a request may hold.
    fields: Vec<Field>,
    example: Example,
}

/// A request and what the program answers to it.
struct Example {
    request: String,
    result: String,
    answer: Shown,
}

/// What of an answer is shown field by field.
#[derive(Deserialize)]
struct Shown {
    sentence: String,
    steps: Vec<Step>,
    cautions: Vec<String>,
    sources: Vec<Source>,
}

#[derive(Deserialize)]
struct Step {
    symbol: String,
    meaning: String,
    value: Value,
    unit: String,
}

impl Step {
    /// The unit as it stands behind a value: nothing for plain numbers.
    fn sign(&self) -> &str {
        match self.unit.as_str() {
            "1" => "",
            "deg" => "°",
            unit => unit,
        }
    }
}

#[derive(Deserialize)]
struct Source {
    title: String,
    status: String,
}

impl Source {
    /// How it was checked, in words.
    fn checked(&self) -> &str {
        match self.status.as_str() {
            "text seen" => "its text was read",
            "transcription" => "transcriptions of it were compared",
            "recalled" => "recalled from memory, its text was not opened",
            "derived" => "derived here, from nothing else",
            other => other,
        }
    }
}

impl Example {
    fn of(entry: &Entry) -> Result<Self, Problem> {
        let text = (entry.calculate)(entry.example.as_bytes()).map_err(Problem::internal)?;
        let answer = serde_json::from_str(&text).map_err(Problem::internal)?;
        let result = field(&text, "result").unwrap_or_default();
        Ok(Self { request: laid_out(entry.example), result: laid_out(&result), answer })
    }
}

async fn all(_: Query<NoFields>, condition: IfNoneMatch) -> Result<HttpResponse, Problem> {
    let page = Index { groups: GROUPS }.render().map_err(Problem::internal)?;
    Ok(answer(page, "text/html; charset=utf-8", &condition))
}

async fn one(_: Query<NoFields>, name: web::Path<String>, condition: IfNoneMatch) -> Result<HttpResponse, Problem> {
    let missing = || Problem::not_found("calculation", &*name);
    let page = pages().find(|page| page.name == *name).ok_or_else(missing)?;
    let entry = calc::find(page.name).ok_or_else(missing)?;
    let fields = fields(&(entry.request_schema)());
    let page = Whole { page, entry, fields, example: Example::of(entry)? }.render().map_err(Problem::internal)?;
    Ok(answer(page, "text/html; charset=utf-8", &condition))
}

async fn style(_: Query<NoFields>, condition: IfNoneMatch) -> HttpResponse {
    answer(include_str!("../../templates/docs/style.css").to_owned(), "text/css; charset=utf-8", &condition)
}

/// 200 with the text and its version, or 304 when the caller has it.
fn answer(text: String, media_type: &'static str, condition: &IfNoneMatch) -> HttpResponse {
    let tag = ETag::of(text.as_bytes());
    let has = condition.has(&tag);
    let mut response = if has { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    response.insert_header((header::ETAG, tag.to_string())).insert_header((header::CACHE_CONTROL, "no-cache"));
    if has {
        return response.finish();
    }
    response.insert_header((header::CONTENT_TYPE, media_type)).body(text)
}

#[cfg(test)]
mod tests {
    use super::{Example, GROUPS, pages, register};
    use actix_web::{
        App,
        http::header::{self, HeaderMap},
        test::{self, TestRequest},
    };
    use dovetally_core::calc;
    use serde_json::Value;
    use std::collections::BTreeSet;

    async fn get(path: &str, tag: Option<&str>) -> (u16, HeaderMap, String) {
        let app = test::init_service(App::new().configure(register)).await;
        let request = TestRequest::get().uri(path);
        let request = match tag {
            Some(tag) => request.insert_header((header::IF_NONE_MATCH, tag)),
            None => request,
        };
        let response = test::call_service(&app, request.to_request()).await;
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        let body = test::read_body(response).await;
        (status, headers, String::from_utf8(body.to_vec()).unwrap())
    }

    /// A page's text as a browser shows what the templates escape.
    fn unescaped(page: &str) -> String {
        [("&#34;", "\""), ("&#39;", "'"), ("&#60;", "<"), ("&#62;", ">"), ("&#38;", "&")]
            .iter()
            .fold(page.to_owned(), |text, (escaped, letter)| text.replace(escaped, letter))
    }

    /// What holds for every page: HTML with a language and a title, one heading, nothing inline, nothing from elsewhere.
    fn proper(path: &str, status: u16, headers: &HeaderMap, page: &str) {
        assert_eq!(status, 200, "{path}");
        assert_eq!(headers.get(header::CONTENT_TYPE).unwrap(), "text/html; charset=utf-8", "{path}");
        assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"), "{path}");
        for (tag, count) in [("<h1>", 1), ("<title>", 1 + page.matches("<svg").count()), ("<main>", 1)] {
            assert_eq!(page.matches(tag).count(), count, "{path}: {tag}");
        }
        for refused in ["style=", "<style", "<script", "http:", "https:", "href=\"//", "src=", "{{", "{%", " onclick"] {
            assert!(!page.contains(refused), "{path}: {refused}");
        }
        for opened in ["table", "thead", "tbody", "figure", "svg", "math", "ul", "ol", "p", "div", "pre", "code"] {
            let count = |tag: String| page.matches(&tag).count();
            let opening = count(format!("<{opened}>")) + count(format!("<{opened} "));
            assert_eq!(opening, count(format!("</{opened}>")), "{path}: <{opened}>");
        }
        assert_eq!(page.matches("<th>").count(), 0, "{path}: every header cell says of what");
        assert_eq!(page.matches("<svg ").count(), page.matches("role=\"img\"").count(), "{path}");
    }

    #[test]
    fn every_calculation_has_a_page_and_every_page_a_calculation() {
        let calculations: BTreeSet<&str> = calc::ALL.iter().map(|entry| entry.name).collect();
        let names: Vec<&str> = pages().map(|page| page.name).collect();
        assert_eq!(names.iter().copied().collect::<BTreeSet<&str>>(), calculations);
        assert_eq!(names.len(), calculations.len());
        let titles: BTreeSet<&str> = pages().map(|page| page.title).collect();
        assert_eq!(titles.len(), names.len());
    }

    #[actix_web::test]
    async fn every_page_tells_what_the_program_answers() {
        for entry in calc::ALL {
            let path = format!("/docs/calculations/{}", entry.name);
            let (status, headers, page) = get(&path, None).await;
            proper(&path, status, &headers, &page);
            let page = unescaped(&page);
            let example = Example::of(entry).unwrap();
            assert!(page.contains(entry.answers), "{path}");
            assert!(page.contains(&example.answer.sentence), "{path}");
            assert!(page.contains(&example.request) && page.contains(&example.result), "{path}");
            assert!(!example.result.is_empty(), "{path}");
            for source in &example.answer.sources {
                assert!(page.contains(&source.title) && source.checked() != source.status, "{path}: {}", source.title);
            }
            for step in &example.answer.steps {
                assert!(page.contains(&step.meaning), "{path}: {}", step.meaning);
            }
            assert!(page.contains("<math"), "{path} shows no formula");
            let schema = (entry.request_schema)();
            let answered: serde_json::Map<String, Value> = serde_json::from_str(&example.result).unwrap();
            for name in schema["properties"].as_object().unwrap().keys().chain(answered.keys()) {
                assert!(page.contains(&format!("<code>{name}</code>")), "{path}: {name}");
            }
        }
    }

    #[actix_web::test]
    async fn the_index_leads_to_every_page() {
        let (status, headers, page) = get("/docs/calculations", None).await;
        proper("/docs/calculations", status, &headers, &page);
        let shown = unescaped(&page);
        for entry in calc::ALL {
            assert_eq!(
                page.matches(&format!("href=\"/docs/calculations/{}\"", entry.name)).count(),
                1,
                "{}",
                entry.name
            );
            assert!(shown.contains(entry.answers), "{}", entry.name);
        }
        for group in GROUPS {
            assert!(page.contains(&format!("id=\"{}\"", group.id)) && page.contains(group.for_whom));
        }
    }

    #[actix_web::test]
    async fn links_lead_somewhere() {
        let paths = pages().map(|page| format!("/docs/calculations/{}", page.name));
        for path in paths.chain(["/docs/calculations".to_owned()]) {
            let (_, _, page) = get(&path, None).await;
            for link in page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
                if let Some(id) = link.strip_prefix('#') {
                    assert!(page.contains(&format!("id=\"{id}\"")), "{path}: {link}");
                } else if link != "/docs/" {
                    let target = link.split('#').next().unwrap();
                    assert_eq!(get(target, None).await.0, 200, "{path}: {link}");
                }
            }
        }
    }

    #[actix_web::test]
    async fn who_has_a_page_gets_it_once() {
        for path in ["/docs/calculations", "/docs/calculations/taper", "/docs/calculations/style.css"] {
            let (_, headers, first) = get(path, None).await;
            let tag = headers.get(header::ETAG).unwrap().to_str().unwrap();
            let (status, again, body) = get(path, Some(tag)).await;
            assert_eq!(
                (status, body.as_str(), again.get(header::ETAG)),
                (304, "", headers.get(header::ETAG)),
                "{path}"
            );
            assert_eq!(get(path, Some("\"other\"")).await.2, first, "{path}");
        }
        let (_, headers, style) = get("/docs/calculations/style.css", None).await;
        assert_eq!(headers.get(header::CONTENT_TYPE).unwrap(), "text/css; charset=utf-8");
        assert!(style.contains("prefers-color-scheme: dark") && !style.contains("url(") && !style.contains("@import"));
    }

    #[actix_web::test]
    async fn what_there_is_not_is_said_so() {
        for path in ["/docs/calculations/no-such-name", "/docs/calculations/Taper"] {
            let (status, headers, body) = get(path, None).await;
            assert_eq!(status, 404, "{path}");
            assert_eq!(headers.get(header::CONTENT_TYPE).unwrap(), "application/problem+json");
            assert!(body.contains("not-found"), "{body}");
        }
        assert_eq!(get("/docs/calculations/taper?surplus=1", None).await.0, 400);
    }
}
