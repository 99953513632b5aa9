//! What a problem document's `type` resolves to.

use super::ProblemCode;
use actix_web::{HttpResponse, http::header};

/// Explains one code, as a page for browsers or as text.
#[must_use]
pub fn explain(code: ProblemCode, as_html: bool) -> HttpResponse {
    let (media_type, body) =
        if as_html { ("text/html; charset=utf-8", html(code)) } else { ("text/plain; charset=utf-8", text(code)) };
    HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, media_type))
        .insert_header((header::VARY, "Accept"))
        .body(body)
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
    use super::{ProblemCode, html, text};

    #[test]
    fn the_table_needs_no_escaping() {
        for code in ProblemCode::ALL {
            assert!(!text(*code).contains(['<', '>', '&']), "{}", code.code());
            assert!(html(*code).contains(code.explains()));
        }
    }
}
