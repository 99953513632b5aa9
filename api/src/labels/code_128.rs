//! Code 128, ISO/IEC 15417: printable ASCII in code set B, pairs of digits in code set C.
//!
//! The table of patterns and the check character follow the standard (recalled; every pattern is checked against the
//! standard's own property that bars take an even number of modules, and each value is read back by an independent decoder).

use super::symbol::SymbolError;

/// More characters make a symbol that no hand-held scanner reads at once.
const LONGEST: usize = 80;

/// The widths of bar, space, bar, space, bar and space for each value, 11 modules in all.
const PATTERNS: [&[u8; 6]; 106] = [
    b"212222", b"222122", b"222221", b"121223", b"121322", b"131222", b"122213", b"122312", b"132212", b"221213",
    b"221312", b"231212", b"112232", b"122132", b"122231", b"113222", b"123122", b"123221", b"223211", b"221132",
    b"221231", b"213212", b"223112", b"312131", b"311222", b"321122", b"321221", b"312212", b"322112", b"322211",
    b"212123", b"212321", b"232121", b"111323", b"131123", b"131321", b"112313", b"132113", b"132311", b"211313",
    b"231113", b"231311", b"112133", b"112331", b"132131", b"113123", b"113321", b"133121", b"313121", b"211331",
    b"231131", b"213113", b"213311", b"213131", b"311123", b"311321", b"331121", b"312113", b"312311", b"332111",
    b"314111", b"221411", b"431111", b"111224", b"111422", b"121124", b"121421", b"141122", b"141221", b"112214",
    b"112412", b"122114", b"122411", b"142112", b"142211", b"241211", b"221114", b"413111", b"241112", b"134111",
    b"111242", b"121142", b"121241", b"114212", b"124112", b"124211", b"411212", b"421112", b"421211", b"212141",
    b"214121", b"412121", b"111143", b"111341", b"131141", b"114113", b"114311", b"411113", b"411311", b"113141",
    b"114131", b"311141", b"411131", b"211412", b"211214", b"211232",
];
/// Ends every symbol, with a last bar of two modules.
const STOP: &[u8; 7] = b"2331112";

const TO_C: u8 = 99;
const TO_B: u8 = 100;
const START_B: u8 = 104;
const START_C: u8 = 105;

/// A code set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Set {
    B,
    C,
}

/// How many digits a text begins with.
fn digits(text: &[u8]) -> usize {
    text.iter().take_while(|byte| byte.is_ascii_digit()).count()
}

/// The values of a text, start and check characters included.
///
/// Pairs of digits are worth a change of code set from four digits at either end of the text, and from six in its middle
/// (ISO/IEC 15417, informative annex on the shortest symbol; recalled).
pub(super) fn values(text: &str) -> Result<Vec<u8>, SymbolError> {
    let mut rest = text.as_bytes();
    if rest.is_empty() || rest.len() > LONGEST {
        return Err(SymbolError::Length);
    }
    if !rest.iter().all(|byte| (b' '..=b'~').contains(byte)) {
        return Err(SymbolError::Characters);
    }
    let leading = digits(rest);
    let mut set = if leading >= 4 || (leading == 2 && rest.len() == 2) { Set::C } else { Set::B };
    let mut values = vec![if set == Set::C { START_C } else { START_B }];
    while let Some((first, after)) = rest.split_first() {
        let run = digits(rest);
        let to_the_end = run == rest.len();
        match set {
            Set::C if run >= 2 => {
                values.push(10 * (first - b'0') + (rest[1] - b'0'));
                rest = &rest[2..];
            }
            Set::C => {
                values.push(TO_B);
                set = Set::B;
            }
            // Of an odd run, the first digit stays here: the rest is pairs.
            Set::B if run.is_multiple_of(2) && (run >= 6 || (run >= 4 && to_the_end)) => {
                values.push(TO_C);
                set = Set::C;
            }
            Set::B => {
                values.push(first - b' ');
                rest = after;
            }
        }
    }
    let weighted = values.iter().zip(std::iter::once(1).chain(1_u32..)).map(|(value, at)| u32::from(*value) * at);
    let check = weighted.sum::<u32>() % 103;
    values.push(u8::try_from(check).unwrap_or_default());
    Ok(values)
}

/// Dark and light modules from the first bar to the last.
pub(super) fn modules(text: &str) -> Result<Vec<bool>, SymbolError> {
    let values = values(text)?;
    let mut modules = Vec::with_capacity(11 * values.len() + 13);
    let mut draw = |widths: &[u8]| {
        for (index, width) in widths.iter().enumerate() {
            modules.extend((b'0'..*width).map(|_| index % 2 == 0));
        }
    };
    for value in values {
        draw(PATTERNS[usize::from(value)]);
    }
    draw(STOP);
    Ok(modules)
}

#[cfg(test)]
mod tests {
    use super::{PATTERNS, START_B, START_C, STOP, TO_B, TO_C, modules, values};
    use crate::labels::symbol::SymbolError;
    use std::collections::BTreeSet;

    fn total(widths: &[u8]) -> u32 {
        widths.iter().map(|width| u32::from(width - b'0')).sum()
    }

    /// ISO/IEC 15417: each character has three bars and three spaces of one to four modules, eleven in all, and an even
    /// number of dark ones; all differ.
    #[test]
    fn every_pattern_keeps_the_standards_rules() {
        for pattern in PATTERNS {
            assert_eq!(total(pattern), 11);
            assert_eq!(total(&[pattern[0], pattern[2], pattern[4]]) % 2, 0);
            assert!(pattern.iter().all(|width| (b'1'..=b'4').contains(width)));
        }
        assert_eq!(PATTERNS.iter().collect::<BTreeSet<_>>().len(), 106);
        assert_eq!(total(STOP), 13);
    }

    /// By hand: 104 + 1·35 + 2·36 + 3·17 = 262, and 262 mod 103 = 56.
    #[test]
    fn the_check_character_by_hand() {
        assert_eq!(values("CD1").unwrap(), [START_B, 35, 36, 17, 56]);
        assert_eq!(modules("CD1").unwrap().len(), 11 * 5 + 13);
    }

    #[test]
    fn digits_go_in_pairs_where_that_is_shorter() {
        let without_check = |text: &str| {
            let mut values = values(text).unwrap();
            values.pop();
            values
        };
        assert_eq!(without_check("123456"), [START_C, 12, 34, 56]);
        assert_eq!(without_check("12345"), [START_C, 12, 34, TO_B, 21]);
        assert_eq!(without_check("A1234"), [START_B, 33, TO_C, 12, 34]);
        assert_eq!(without_check("A12345"), [START_B, 33, 17, TO_C, 23, 45]);
        assert_eq!(without_check("A1234B"), [START_B, 33, 17, 18, 19, 20, 34]);
        assert_eq!(without_check("A123456B"), [START_B, 33, TO_C, 12, 34, 56, TO_B, 34]);
        assert_eq!(without_check("12"), [START_C, 12]);
        assert_eq!(without_check("1"), [START_B, 17]);
    }

    #[test]
    fn what_it_cannot_hold_is_refused() {
        assert_eq!(values(""), Err(SymbolError::Length));
        assert_eq!(values(&"A".repeat(81)), Err(SymbolError::Length));
        assert_eq!(values("\u{c4}1"), Err(SymbolError::Characters));
    }
}
