//! Whatever bytes arrive as a request, no calculation panics, and none answers with something that is not a number. The
//! fuzz targets in `tests/fuzz` go on where this stops.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

mod body;
mod requests;

use dovetally_core::calc::ALL;
use std::collections::BTreeSet;

/// Mutations of every body.
const ROUNDS: usize = 400;

/// Bits from a seed, the same in every run (SplitMix64, G. L. Steele, D. Lea, C. H. Flood 2014; recalled).
struct Bits(u64);

impl Bits {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(bound.max(1)).unwrap()).unwrap()
    }

    fn one_of<'a>(&mut self, of: &[&'a [u8]]) -> &'a [u8] {
        of[self.below(of.len())]
    }
}

/// What JSON is made of, and numbers that calculations stumble over.
const PIECES: &[&[u8]] = &[
    b"0",
    b"-",
    b".",
    b"e",
    b"1e999",
    b"-1e999",
    b"1e308",
    b"5e-324",
    b"-0.0",
    b"1e-9",
    b"10000",
    b"90",
    b"1e15",
    b"18446744073709551616",
    b"null",
    b"true",
    b"NaN",
    b"[]",
    b"{}",
    b"\"",
    b"\\",
    b"\\u0000",
    b",",
    b":",
    b"[",
    b"]",
    b"{",
    b"}",
    b" ",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\"unit\":\"mm\"",
    b"\"in\"",
];

/// A byte changed, a stretch taken out or doubled, or a piece put in; where a number stands, often another number.
fn mutate(body: &mut Vec<u8>, bits: &mut Bits) {
    let at = bits.below(body.len());
    let end = (at + 1 + bits.below(12)).min(body.len());
    match bits.below(6) {
        0 if at < body.len() => body[at] ^= 1 << bits.below(8),
        1 => drop(body.drain(at..end)),
        2 => {
            let stretch = body[at..end].to_vec();
            let to = bits.below(body.len());
            drop(body.splice(to..to, stretch));
        }
        3 => drop(body.splice(at..at, bits.one_of(PIECES).iter().copied())),
        _ => {
            let is_number = |byte: &u8| byte.is_ascii_digit() || b"+-.eE".contains(byte);
            let Some(start) = body[at..].iter().position(u8::is_ascii_digit).map(|skipped| at + skipped) else {
                return;
            };
            let end =
                body[start..].iter().position(|byte| !is_number(byte)).map_or(body.len(), |length| start + length);
            drop(body.splice(start..end, bits.one_of(&PIECES[..14]).iter().copied()));
        }
    }
}

#[test]
fn mutated_bytes_do_no_harm() {
    let mut bodies: Vec<(&str, String)> = ALL.iter().map(|entry| (entry.name, entry.example.to_owned())).collect();
    bodies.extend(requests::requests().into_iter().map(|(name, request)| (name, request.to_string())));
    let mut bits = Bits(1);
    let (mut answered, mut sent) = (0, 0);
    for (name, original) in &bodies {
        assert!(body::check(name, original.as_bytes()), "{name}: the body itself is answered");
        for _ in 0..ROUNDS {
            let mut body = original.clone().into_bytes();
            for _ in 0..=bits.below(3) {
                mutate(&mut body, &mut bits);
            }
            sent += 1;
            answered += usize::from(body::check(name, &body));
        }
    }
    // Were nearly all refused, or hardly any, the mutations would try only one half of the program.
    assert!(answered * 50 > sent && answered * 2 < sent, "{answered} of {sent} were answered");
}

#[test]
fn every_calculation_has_a_fuzz_target() {
    let directory = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/fuzz/fuzz_targets");
    let targets: BTreeSet<String> = std::fs::read_dir(directory)
        .unwrap()
        .map(|file| file.unwrap().path().file_stem().unwrap().to_str().unwrap().replace('_', "-"))
        .collect();
    let names: BTreeSet<String> = ALL.iter().map(|entry| entry.name.to_owned()).collect();
    assert_eq!(targets, names);
    for target in targets {
        let file = format!("{directory}/{}.rs", target.replace('-', "_"));
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.contains(&format!("target!(\"{target}\")")), "{file} is about {target}");
    }
}
