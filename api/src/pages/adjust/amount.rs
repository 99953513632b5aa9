//! So many turns of a screw, in words that a hand can follow.

use super::AdjustWords;
use crate::pages::numbers::DecimalMark;

/// How far a count of turns may lie from a simple fraction that stands for it, in turns: three degrees.
const NEAR: f64 = 3.0 / 360.0;

/// A count of turns as it is said: "1/3", "1 1/4", and where no simple fraction is near, "0.183".
pub(super) fn said(turns: f64, mark: DecimalMark) -> String {
    let whole = turns.floor();
    let rest = turns - whole;
    let near = |value: f64| (rest - value).abs() <= NEAR;
    let joined = |fraction: &str| if whole < 1.0 { fraction.to_owned() } else { format!("{whole} {fraction}") };
    if whole >= 1.0 && near(0.0) {
        return format!("{whole}");
    }
    if near(1.0) {
        return format!("{}", whole + 1.0);
    }
    for (fraction, value) in [
        ("1/2", 1.0 / 2.0),
        ("1/3", 1.0 / 3.0),
        ("2/3", 2.0 / 3.0),
        ("1/4", 1.0 / 4.0),
        ("3/4", 3.0 / 4.0),
        ("1/6", 1.0 / 6.0),
        ("5/6", 5.0 / 6.0),
        ("1/8", 1.0 / 8.0),
        ("3/8", 3.0 / 8.0),
        ("5/8", 5.0 / 8.0),
        ("7/8", 7.0 / 8.0),
        ("1/12", 1.0 / 12.0),
    ] {
        if near(value) {
            return joined(fraction);
        }
    }
    exact(turns, mark)
}

/// A count of turns to a thousandth; a smaller one with two digits that count.
pub(super) fn exact(turns: f64, mark: DecimalMark) -> String {
    let decimals = if turns >= 0.01 { 3 } else { 6 };
    mark.rounded(turns, decimals)
}

/// The same with its noun.
pub(super) fn amount(turns: f64, mark: DecimalMark, words: &AdjustWords) -> String {
    let phrase = if turns <= 1.0 + NEAR { &words.one_turn } else { &words.many_turns };
    phrase.with("number", said(turns, mark)).to_string()
}

/// How much it is exactly, in degrees and in flats of a hexagon.
pub(super) fn exactly(turns: f64, flats: f64, mark: DecimalMark, words: &AdjustWords) -> String {
    let degrees = 360.0 * turns;
    let phrase = if flats < 1.0 {
        &words.exactly
    } else if flats < 2.0 {
        &words.exactly_one_flat
    } else {
        &words.exactly_flats
    };
    let filled = phrase.with("turns", exact(turns, mark));
    let degrees = mark.rounded(degrees, usize::from(degrees < 10.0));
    filled.with("degrees", degrees).with("flats", mark.rounded(flats, 0)).to_string()
}

#[cfg(test)]
mod tests {
    use super::{exact, said};
    use crate::pages::numbers::DecimalMark::{Comma, Point};

    #[test]
    fn a_hand_is_told_a_fraction_where_one_is_near() {
        for (turns, words) in [
            (0.3333, "1/3"),
            (0.329, "1/3"),
            (0.25, "1/4"),
            (0.62, "5/8"),
            (0.998, "1"),
            (1.0, "1"),
            (1.255, "1 1/4"),
            (1.995, "2"),
            (2.5, "2 1/2"),
            (0.183, "0,183"),
            (0.032, "0,032"),
            (0.0004, "0,0004"),
            (1.05, "1,05"),
        ] {
            assert_eq!(said(turns, Comma), words, "{turns}");
        }
    }

    #[test]
    fn what_is_said_is_near_what_is_meant() {
        for step in 1..4000_u32 {
            let turns = f64::from(step) / 1000.0;
            let words = said(turns, Point);
            let value: f64 = words
                .split(' ')
                .map(|part| match part.split_once('/') {
                    Some((over, under)) => over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap(),
                    None => part.parse::<f64>().unwrap(),
                })
                .sum();
            assert!((value - turns).abs() <= 3.0 / 360.0 + 1e-9, "{turns}: {words}");
        }
        assert_eq!(exact(0.3289, Point), "0.329");
    }
}
