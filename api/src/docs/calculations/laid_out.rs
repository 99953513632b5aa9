//! JSON text laid out for reading. Fields stay in the order in which they were written, which a parsed map would not
//! keep: a request is read from its unit on.

/// A line gets no longer than this where it can be broken.
const WIDTH: usize = 72;

/// JSON text over as many lines as it needs; what fits in one line stays in one. The text is valid JSON whose keys hold
/// no escapes.
pub(super) fn laid_out(json: &str) -> String {
    let mut lines = String::new();
    lay(&spaced(json), 0, &mut lines);
    lines
}

/// The text of one field of a JSON object; `None` where there is none.
pub(super) fn field(json: &str, name: &str) -> Option<String> {
    let json = spaced(json);
    parts(json.get(1..json.len().checked_sub(1)?)?)
        .into_iter()
        .find_map(|part| part.strip_prefix(&format!("\"{name}\": ")).map(str::to_owned))
}

/// The same text in one line, with one space after each colon and comma.
fn spaced(json: &str) -> String {
    let mut line = String::with_capacity(json.len());
    let (mut in_string, mut escaped) = (false, false);
    for letter in json.chars() {
        if in_string {
            line.push(letter);
            in_string = escaped || letter != '"';
            escaped = !escaped && letter == '\\';
        } else if !letter.is_whitespace() {
            line.push(letter);
            in_string = letter == '"';
            if matches!(letter, ',' | ':') {
                line.push(' ');
            }
        }
    }
    line
}

/// The elements of what stands inside brackets or braces.
fn parts(inside: &str) -> Vec<&str> {
    let mut found = Vec::new();
    let (mut depth, mut start) = (0_usize, 0);
    let (mut in_string, mut escaped) = (false, false);
    for (at, letter) in inside.char_indices() {
        match letter {
            _ if in_string => {
                in_string = escaped || letter != '"';
                escaped = !escaped && letter == '\\';
            }
            '"' => in_string = true,
            '{' | '[' => depth += 1,
            '}' | ']' => depth = depth.saturating_sub(1),
            ',' if depth == 0 => {
                found.push(inside[start..at].trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    found.push(inside[start..].trim());
    found
}

/// Writes a value that starts after `indent` spaces.
fn lay(value: &str, indent: usize, lines: &mut String) {
    if indent + value.chars().count() <= WIDTH || !value.starts_with(['{', '[']) {
        lines.push_str(value);
        return;
    }
    let (open, close) = (&value[..1], &value[value.len() - 1..]);
    lines.push_str(open);
    let mut separator = "";
    for part in parts(&value[1..value.len() - 1]) {
        lines.push_str(separator);
        separator = ",";
        lines.push('\n');
        lines.push_str(&" ".repeat(indent + 2));
        match part.split_once("\": ").filter(|_| open == "{") {
            Some((key, value)) => {
                lines.push_str(key);
                lines.push_str("\": ");
                lay(value, indent + 2, lines);
            }
            None => lay(part, indent + 2, lines),
        }
    }
    lines.push('\n');
    lines.push_str(&" ".repeat(indent));
    lines.push_str(close);
}

#[cfg(test)]
mod tests {
    use super::{field, laid_out};
    use serde_json::Value;

    #[test]
    fn what_fits_stays_in_a_line() {
        assert_eq!(laid_out("{\"unit\":\"in\",\n  \"turns\":1.5}"), r#"{"unit": "in", "turns": 1.5}"#);
    }

    #[test]
    fn long_text_keeps_its_order_and_its_meaning() {
        let json = r#"{"unit": "mm", "adjuster": {"name": "side, \"left\" {", "travel_per_turn": 0.5, "seen_from": "the operator's side"},
            "sizes": [1, 2, 3], "a": "a long text that does not fit: it is never broken, whatever it holds, [not] even at a comma"}"#;
        let lines = laid_out(json);
        assert_eq!(serde_json::from_str::<Value>(&lines).unwrap(), serde_json::from_str::<Value>(json).unwrap());
        let order: Vec<usize> = ["\"unit\"", "\"adjuster\"", "\"sizes\"", "\"a\""]
            .iter()
            .map(|key| lines.find(&format!("\n  {key}: ")).unwrap())
            .collect();
        assert!(order.is_sorted(), "{lines}");
        assert!(lines.contains("\n  \"sizes\": [1, 2, 3],\n"), "{lines}");
        assert!(lines.contains("\n    \"travel_per_turn\": 0.5,\n"), "{lines}");
    }

    #[test]
    fn a_field_is_found_by_its_name() {
        let json = r#"{"inputs":{"result":1},"result":{"b":[2,3],"a":"x, y"}}"#;
        assert_eq!(field(json, "result").unwrap(), r#"{"b": [2, 3], "a": "x, y"}"#);
        assert_eq!(field(json, "b"), None);
    }
}
