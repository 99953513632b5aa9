//! What every page's template has: its words, who is signed in, how they want it shown, and where it is.

use super::{
    assets,
    numbers::{DecimalMark, MeasuredFault, ShownLength, in_other_unit},
    preferences::Preferences,
    wording::{ToldRefusal, Words},
};
use crate::{
    principal::{Principal, whoever},
    problem::Problem,
};
use actix_web::{
    HttpRequest, HttpResponse,
    http::{StatusCode, header},
};
use askama::Template;
use chrono::{DateTime, NaiveDate, Utc};
use dovetally_core::{
    item::Condition,
    length::{Length, LengthUnit},
    people::Permission,
    reading::Doubt,
    refusal::Refusal,
};

/// What every page has.
#[derive(Clone, Debug)]
pub struct Frame {
    /// The words, in the reader's language.
    pub words: &'static Words,
    /// How they want it shown.
    pub preferences: Preferences,
    /// Who is signed in.
    pub who: Option<Principal>,
    /// Where the page is: path and query.
    pub address: String,
}

impl Frame {
    /// Of a request.
    #[must_use]
    pub fn of(request: &HttpRequest) -> Self {
        let preferences = Preferences::of(request);
        Self {
            words: Words::of(preferences.language),
            preferences,
            who: whoever(request),
            address: request.uri().path_and_query().map_or("/", |at| at.as_str()).to_owned(),
        }
    }

    /// Whether whoever is signed in has a permission.
    #[must_use]
    pub fn may(&self, permission: Permission) -> bool {
        self.who.as_ref().is_some_and(|who| who.may(permission))
    }

    /// The badge of whoever is signed in, or nothing.
    #[must_use]
    pub fn badge(&self) -> &str {
        self.who.as_ref().map_or("", |who| &who.badge)
    }

    /// The address of an asset.
    #[must_use]
    pub fn asset(&self, name: &str) -> String {
        assets::address(name)
    }

    /// The address of the sign-in page that leads back here.
    #[must_use]
    pub fn sign_in(&self) -> String {
        super::sign_in::address(&self.address)
    }

    /// A key for one sending of one form: sent twice, it does its work once.
    #[must_use]
    pub fn fresh_key(&self) -> String {
        let mut bytes = [0_u8; 16];
        // Without randomness the key would be everybody's; then there is none, and a form works without.
        if getrandom::fill(&mut bytes).is_err() {
            return String::new();
        }
        bytes.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The mark before decimals.
    #[must_use]
    pub fn mark(&self) -> DecimalMark {
        self.preferences.mark
    }

    /// A length, as it was entered and in the other unit.
    #[must_use]
    pub fn length(&self, length: &Length) -> ShownLength {
        self.preferences.mark.length(*length)
    }

    /// The words of what leads to the same boxes in another unit.
    #[must_use]
    pub fn unit_change(&self, to: LengthUnit) -> String {
        let name = match to {
            LengthUnit::Inch => &self.words.common.unit_in,
            LengthUnit::Millimetre => &self.words.common.unit_mm,
        };
        self.words.common.unit_change.with("unit", name).to_string()
    }

    /// What is wrong with a number that was typed, for [`super::visit::Faults::read`].
    #[must_use]
    pub fn number_fault(&self, fault: MeasuredFault) -> String {
        let words = &self.words.numbers;
        let phrase = match fault {
            MeasuredFault::Empty => &words.empty,
            MeasuredFault::TwoMarks => &words.two_marks,
            MeasuredFault::Sign => &words.sign,
            MeasuredFault::NoSign => &words.no_sign,
            MeasuredFault::NotANumber => &words.not_a_number,
            MeasuredFault::TooLarge => &words.too_large,
        };
        phrase.to_string()
    }

    /// Why a value that is read back deserves a second look, for `parts::read_back`.
    #[must_use]
    pub fn doubt(&self, doubt: Doubt, measured: &Length, target: &Length) -> String {
        let words = &self.words.common;
        // What is measured against nothing is a difference: it fits no size.
        let difference = target.picometres() == 0;
        let phrase = match (doubt, measured.unit()) {
            (Doubt::OtherUnit(_), LengthUnit::Inch) if difference => &words.small_in_mm,
            (Doubt::OtherUnit(_), LengthUnit::Millimetre) if difference => &words.small_in_inch,
            (Doubt::OtherUnit(_), _) => &words.other_unit_doubt,
            (Doubt::Far, _) if difference => &words.far_off,
            (Doubt::Far, _) => &words.far,
        };
        phrase.with("target", self.length(target).entered).to_string()
    }

    /// A day.
    #[must_use]
    pub fn day(&self, day: &NaiveDate) -> String {
        self.preferences.days.day(*day)
    }

    /// The day on which something happened, by the reader's clock as the times beside it are.
    #[must_use]
    pub fn day_of(&self, at: &DateTime<Utc>) -> String {
        self.day(&self.preferences.local(*at).date())
    }

    /// That the last day of a check has gone by, where it has.
    #[must_use]
    pub fn overdue(&self, next_check: Option<NaiveDate>, today: NaiveDate) -> Option<String> {
        let day = next_check.filter(|day| *day < today)?;
        Some(self.words.common.check_overdue.with("day", self.day(&day)).to_string())
    }

    /// An instant in words, for those without scripts.
    #[must_use]
    pub fn instant(&self, instant: &DateTime<Utc>) -> String {
        self.preferences.days.instant(*instant)
    }

    /// An instant for scripts, which show it in the reader's own time.
    #[must_use]
    pub fn machine_instant(&self, instant: &DateTime<Utc>) -> String {
        instant.format("%Y-%m-%dT%H:%M:%SZ").to_string()
    }

    /// A sentence that the rules or calculations made.
    #[must_use]
    pub fn told(&self, sentence: &str) -> String {
        self.shown(&self.words.told.sentence(sentence))
    }

    /// The same with its lengths in the other unit, where it has any.
    #[must_use]
    pub fn told_in_other_unit(&self, sentence: &str) -> Option<String> {
        in_other_unit(&self.words.told.sentence(sentence)).map(|sentence| self.shown(&sentence))
    }

    /// A sentence with its numbers and days as the reader wants them.
    fn shown(&self, sentence: &str) -> String {
        self.preferences.days.sentence(&self.mark().sentence(sentence))
    }

    /// What was seen, in words: conditions and fields by their names, and nothing where it is the id of a record.
    fn seen(&self, saw: &str) -> Option<String> {
        if let Some(condition) = Condition::from_name(saw) {
            return Some(self.words.names.condition(condition).to_string());
        }
        let number = |word: &str| uuid::Uuid::try_parse(word.trim_end_matches([',', ';'])).is_ok();
        let spelled = |word: &str| {
            let is_name = word.chars().all(|c| c.is_ascii_lowercase() || matches!(c, '_' | ':' | ','));
            if is_name { word.replace('_', " ").replace("false", "no") } else { word.to_owned() }
        };
        let words: Vec<String> = saw.split(' ').map(spelled).collect();
        (!saw.split(' ').any(number)).then(|| self.shown(&words.join(" ")))
    }

    /// Refusals in the reader's words.
    #[must_use]
    pub fn refusals(&self, refusals: &[Refusal]) -> Vec<ToldRefusal> {
        let marked = |told: ToldRefusal| ToldRefusal {
            sentence: self.shown(&told.sentence),
            saw: told.saw.and_then(|saw| self.seen(&saw)),
            clears: self.shown(&told.clears),
        };
        refusals.iter().map(|refusal| marked(self.words.told.refusal(refusal))).collect()
    }
}

/// A page as an answer. It is never kept: the next glance may have to say something else.
///
/// # Errors
/// 500 when the template does.
pub fn page(template: &impl Template) -> Result<HttpResponse, Problem> {
    page_with(StatusCode::OK, template)
}

/// A page with another status.
///
/// # Errors
/// 500 when the template does.
pub fn page_with(status: StatusCode, template: &impl Template) -> Result<HttpResponse, Problem> {
    let html = template.render().map_err(Problem::internal)?;
    let mut response = HttpResponse::build(status)
        .insert_header((header::CONTENT_TYPE, "text/html; charset=utf-8"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::VARY, "Cookie, Accept-Language"))
        .body(html);
    // A page may say in its own form that something went wrong.
    response.extensions_mut().insert(crate::trace::OwnErrorForm);
    Ok(response)
}

/// Sends the browser on to another of our pages, which it asks for with GET.
#[must_use]
pub fn go_to(address: &str) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((header::LOCATION, address))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .finish()
}

#[cfg(test)]
mod tests {
    use super::Frame;
    use actix_web::{http::header, test::TestRequest};

    #[test]
    fn what_happened_has_the_day_of_the_readers_clock() {
        let day = |minutes: Option<&str>| {
            let mut request = TestRequest::get();
            if let Some(minutes) = minutes {
                request = request.insert_header((header::COOKIE, format!("dovetally_clock={minutes}")));
            }
            let at = "2026-11-05T22:30:00Z".parse().unwrap();
            Frame::of(&request.to_http_request()).day_of(&at)
        };
        assert_eq!([day(None), day(Some("60"))], ["2026-11-05", "2026-11-05"]);
        assert_eq!([day(Some("120")), day(Some("-1380"))], ["2026-11-06", "2026-11-04"]);
    }
}
