//! Prints labels of random codes as JSON, one a line, for `tests/labels`: `labels [CODES [SEED]]`. Every kind of label is
//! printed for each code, the shortest and the longest codes first.

use dovetally::labels::{Label, LabelKind, Said, symbol::Symbology};
use dovetally_core::code::Code;
use serde_json::json;
use std::io::Write;

const ADDRESS: &str = "https://tooling.shop.example:8443";
const FIRST: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789";
const TAIL: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-";

/// SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, 2014; recalled).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn one_of(&mut self, from: &[u8]) -> char {
        let count = u64::try_from(from.len()).unwrap_or(1);
        usize::try_from(self.next() % count)
            .ok()
            .and_then(|index| from.get(index))
            .map_or('0', |byte| char::from(*byte))
    }

    /// A code of one to 32 characters.
    fn code(&mut self) -> Code {
        loop {
            let length = 1 + self.next() % 32;
            let text: String =
                std::iter::once(self.one_of(FIRST)).chain((1..length).map(|_| self.one_of(TAIL))).collect();
            if let Ok(code) = Code::parse(&text) {
                return code;
            }
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let count: usize = arguments.next().map_or(Ok(20), |text| text.parse())?;
    let seed: u64 = arguments.next().map_or(Ok(1), |text| text.parse())?;
    let mut random = Random(seed);
    let extremes = [
        "7",
        "A",
        "0123456789012345678901234567890",
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ012345",
        "Z._-._-._-._-._-._-._-._-._-._-.",
    ];
    let mut codes = extremes.into_iter().map(Code::parse).collect::<Result<Vec<Code>, _>>()?;
    codes.extend((0..count).map(|_| random.code()));
    let mut out = std::io::stdout().lock();
    for code in codes {
        for (kind, address) in LabelKind::ALL.into_iter().flat_map(|kind| [(kind, Some(ADDRESS)), (kind, None)]) {
            let said = Said {
                code: code.clone(),
                name: "Form tool, head and groove".to_owned(),
                essential: vec!["Only for machine M-101".to_owned()],
                further: Vec::new(),
            };
            let label = Label::new(kind, &said, address)?;
            let symbols: Vec<_> = label
                .symbols()
                .iter()
                .map(|placed| {
                    let format = match placed.symbology {
                        Symbology::Qr => "QRCode",
                        Symbology::DataMatrix => "DataMatrix",
                        Symbology::Code128 => "Code128",
                    };
                    json!({"format": format, "text": placed.text, "area": placed.area})
                })
                .collect();
            let sizes = kind.sizes();
            let line = json!({"kind": kind.name(), "code": code, "width": sizes.width, "height": sizes.height,
                "symbols": symbols, "svg": label.svg()});
            writeln!(out, "{line}")?;
        }
    }
    Ok(())
}
