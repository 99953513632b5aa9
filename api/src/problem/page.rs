//! `GET /problems/{code}`: what a problem document's `type` resolves to.

use super::{Problem, ProblemCode};
use actix_web::{HttpRequest, HttpResponse, http::header, web};

/// Explains one code, as HTML for browsers and as text for everything else that does not ask for HTML.
///
/// # Errors
/// 404 for what is not a code.
pub async fn problem_page(request: HttpRequest, code: web::Path<String>) -> Result<HttpResponse, Problem> {
    let code = ProblemCode::from_code(&code).ok_or_else(|| Problem::not_found("problem code", &*code))?;
    let accept = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let (media_type, body) = if accept.contains("text/html") {
        ("text/html; charset=utf-8", html(code))
    } else {
        ("text/plain; charset=utf-8", text(code))
    };
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, media_type))
        .insert_header((header::VARY, "Accept"))
        .body(body))
}

fn text(code: ProblemCode) -> String {
    let (title, status) = (code.title(), code.status());
    format!("{title} ({}, HTTP {status})\n\n{}\n\n{}\n", code.code(), code.explains(), code.remedy())
}

/// The words are the table's own, which has no character that HTML would read; the test below keeps it so.
fn html(code: ProblemCode) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\"><title>{title} - dovetally</title></head>\n\
         <body>\n<h1>{title}</h1>\n<p><code>{code}</code>, HTTP {status}</p>\n<p>{explains}</p>\n<p>{remedy}</p>\n\
         </body>\n</html>\n",
        title = code.title(),
        code = code.code(),
        status = code.status(),
        explains = code.explains(),
        remedy = code.remedy(),
    )
}

#[cfg(test)]
mod tests {
    use super::{ProblemCode, problem_page};
    use actix_web::{App, test, web};

    #[actix_web::test]
    async fn every_type_resolves() {
        let app = test::init_service(App::new().route("/problems/{code}", web::get().to(problem_page))).await;
        for code in ProblemCode::ALL {
            let request = test::TestRequest::get().uri(&code.path()).to_request();
            let body = test::call_and_read_body(&app, request).await;
            let text = String::from_utf8(body.to_vec()).unwrap();
            assert!(text.contains(code.title()) && text.contains(code.remedy()));
            assert!(!text.contains(['<', '>', '&']), "{} needs escaping as HTML", code.code());

            let request =
                test::TestRequest::get().uri(&code.path()).insert_header(("accept", "text/html")).to_request();
            let response = test::call_service(&app, request).await;
            assert_eq!(response.headers().get("content-type").unwrap(), "text/html; charset=utf-8");
        }
        let request = test::TestRequest::get().uri("/problems/no-such-code").to_request();
        assert_eq!(test::call_service(&app, request).await.status(), 404);
    }
}
