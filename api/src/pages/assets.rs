//! Style, scripts and marks of the pages: compiled in, and named with a digest so that browsers may keep them for good.

use crate::{conditional::ETag, problem::Problem};
use actix_web::{HttpRequest, HttpResponse, http::header, web};
use std::sync::LazyLock;

struct Asset {
    name: &'static str,
    media_type: &'static str,
    text: &'static str,
}

macro_rules! asset {
    ($name:literal, $media_type:literal) => {
        Asset { name: $name, media_type: $media_type, text: include_str!(concat!("../../assets/", $name)) }
    };
}

const ASSETS: &[Asset] = &[
    asset!("style.css", "text/css; charset=utf-8"),
    asset!("mark.svg", "image/svg+xml"),
    asset!("page.js", "text/javascript; charset=utf-8"),
    asset!("moments.js", "text/javascript; charset=utf-8"),
    asset!("reader.js", "text/javascript; charset=utf-8"),
    asset!("queue.js", "text/javascript; charset=utf-8"),
    asset!("scan.js", "text/javascript; charset=utf-8"),
    asset!("unread.js", "text/javascript; charset=utf-8"),
    asset!("live.js", "text/javascript; charset=utf-8"),
    asset!("verdict.js", "text/javascript; charset=utf-8"),
];

/// One digest over all of them: a module names its neighbours without one, and must not meet an older neighbour.
static VERSION: LazyLock<String> = LazyLock::new(|| {
    let all: String = ASSETS.iter().map(|asset| asset.text).collect();
    ETag::of(all.as_bytes()).opaque().chars().take(12).collect()
});

/// The address of an asset: `/assets/<version>/<name>`, so that modules import each other by relative names.
#[must_use]
pub fn address(name: &str) -> String {
    format!("/assets/{}/{name}", *VERSION)
}

/// Answers an asset. By the version of now it never changes; by any other it is the present one, to be asked for again.
///
/// # Errors
/// 404 for what is not there.
pub async fn serve(request: HttpRequest, path: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    let (version, name) = path.into_inner();
    let asset = ASSETS.iter().find(|asset| asset.name == name);
    let asset = asset.ok_or_else(|| Problem::not_found("file", request.path()))?;
    let kept = if version == *VERSION { "public, max-age=31536000, immutable" } else { "no-cache" };
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, asset.media_type))
        .insert_header((header::CACHE_CONTROL, kept))
        .body(asset.text))
}

#[cfg(test)]
mod tests {
    use super::{ASSETS, address, serve};
    use actix_web::{
        App,
        http::header,
        test::{TestRequest, call_service, init_service},
        web,
    };

    /// Dark by choice and dark by the system are one look; a style sheet cannot say it once.
    #[test]
    fn both_dark_looks_are_the_same() {
        let style = ASSETS.iter().find(|asset| asset.name == "style.css").unwrap().text;
        let look = |head: &str| {
            let (_, from) = style.split_once(head).unwrap();
            from.split_once('}').unwrap().0.split_whitespace().collect::<Vec<_>>()
        };
        let chosen = look(":root[data-look=\"dark\"] {");
        assert!(!chosen.is_empty());
        assert_eq!(chosen, look(":root[data-look=\"system\"] {"));
    }

    #[actix_web::test]
    async fn assets_are_kept_by_their_version_alone() {
        let app = init_service(App::new().route("/assets/{version}/{name}", web::get().to(serve))).await;
        for asset in ASSETS {
            let request = TestRequest::get().uri(&address(asset.name)).to_request();
            let answer = call_service(&app, request).await;
            assert_eq!(answer.headers().get(header::CONTENT_TYPE).unwrap(), asset.media_type);
            assert!(answer.headers().get(header::CACHE_CONTROL).unwrap().to_str().unwrap().contains("immutable"));
        }
        let request = TestRequest::get().uri("/assets/old/style.css").to_request();
        let answer = call_service(&app, request).await;
        assert_eq!(answer.headers().get(header::CACHE_CONTROL).unwrap(), "no-cache");
        let request = TestRequest::get().uri("/assets/old/nothing.js").to_request();
        assert_eq!(call_service(&app, request).await.status(), 404);
    }

    #[test]
    fn the_style_sheet_closes_what_it_opens() {
        let style = ASSETS.iter().find(|asset| asset.name == "style.css").unwrap().text;
        let mut depth = 0;
        for (number, line) in style.lines().enumerate() {
            depth += line.matches('{').count();
            depth -= line.matches('}').count();
            // Rules stand in the sheet, or in a media query: in nothing else.
            assert!(depth <= 2, "line {}: something above it is not closed", number + 1);
        }
        assert_eq!(depth, 0);
    }

    #[test]
    fn modules_import_what_is_served() {
        for asset in ASSETS.iter().filter(|asset| asset.name.ends_with(".js")) {
            for line in asset.text.lines().filter(|line| line.starts_with("import ")) {
                let from = line.split('"').nth(1).unwrap_or_default();
                let known = ASSETS.iter().any(|other| from == format!("./{}", other.name));
                assert!(known, "{}: {line}", asset.name);
            }
            assert!(!asset.text.contains("://"), "{} names another server", asset.name);
        }
    }
}
