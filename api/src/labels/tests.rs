use super::{
    Label, LabelError, LabelKind, Paper, Said, Sheet, address_of, sheets,
    symbol::{Symbol, SymbolError, Symbology},
    traveller,
};
use crate::{
    drawing::format::Plain,
    pages::wording::{Language, Words},
    transport::{
        item::Where,
        traveller::{GrindTarget, TravellerView},
    },
};
use chrono::Utc;
use dovetally_core::{
    code::Code,
    item::{Condition, HolderOfRecord},
    length::{Length, LengthUnit},
    registry::tool_design::ToolDesignKind,
};
use proptest::prelude::*;
use roxmltree::{Document, Node};

const ADDRESS: &str = "https://tooling.shop.example:8443/";
const LONGEST: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ012345";
/// The longest code of digits alone: 32 of them are an id.
const DIGITS: &str = "0123456789012345678901234567890";

fn said(code: &str) -> Said {
    Said {
        code: Code::parse(code).unwrap(),
        name: "Centre gauge, <left> & right".to_owned(),
        essential: vec!["Only for machine M-101".to_owned()],
        further: vec!["Gauge board 2".to_owned()],
    }
}

fn numbers(path: &str) -> Vec<f64> {
    let parts = path.split(['M', 'H', 'V', 'Z', ' ']).filter(|part| !part.is_empty());
    parts.map(|part| part.parse().unwrap()).collect()
}

/// Everything that is true of any label: it is XML of the stated size, each symbol stands in its area with its quiet zone, and no
/// letter comes near one.
fn examine(label: &Label) {
    let svg = label.svg();
    let document = Document::parse(&svg).unwrap();
    let root = document.root_element();
    let sizes = label.kind().sizes();
    assert_eq!(root.attribute("width").unwrap(), format!("{}mm", sizes.width));
    assert_eq!(root.attribute("height").unwrap(), format!("{}mm", sizes.height));
    assert_eq!(root.attribute("viewBox").unwrap(), format!("0 0 {} {}", sizes.width, sizes.height));
    for node in root.descendants() {
        assert!(node.attributes().all(|attribute| attribute.name() != "style"));
    }
    let paths: Vec<Node<'_, '_>> = root.descendants().filter(|node| node.tag_name().name() == "path").collect();
    assert_eq!(paths.len(), label.symbols().len());
    for (path, placed) in paths.iter().zip(label.symbols()) {
        let [x, y, width, height] = placed.area;
        assert!(x >= sizes.margin - 1e-9 && x + width <= sizes.width - sizes.margin + 1e-9, "{placed:?}");
        assert!(y >= sizes.margin - 1e-9 && y + height <= sizes.height - sizes.margin + 1e-9, "{placed:?}");
        assert!(placed.module >= placed.symbology.narrowest_mm());
        let quiet = [Symbology::Qr, Symbology::DataMatrix, Symbology::Code128]
            .into_iter()
            .zip([4.0, 1.0, 10.0])
            .find(|(symbology, _)| *symbology == placed.symbology)
            .map_or(0.0, |(_, asked)| asked * placed.module);
        // Each run of dark modules: left, top, right, bottom, left.
        for run in numbers(path.attribute("d").unwrap()).chunks(5) {
            assert!(run[0] >= x + quiet - 1e-3 && run[2] <= x + width - quiet + 1e-3, "{run:?} {placed:?}");
            if placed.symbology != Symbology::Code128 {
                assert!(run[1] >= y + quiet - 1e-3 && run[3] <= y + height - quiet + 1e-3, "{run:?} {placed:?}");
            }
        }
    }
    for text in root.descendants().filter(|node| node.tag_name().name() == "text") {
        let number = |name: &str| text.attribute(name).unwrap().parse::<f64>().unwrap();
        let (x, y, letters) = (number("x"), number("y"), number("font-size"));
        let width = text.text().unwrap().chars().map(|_| 0.6 * letters).sum::<f64>();
        assert!(letters >= 1.6 - 1e-9, "{letters}");
        assert!(
            x + width <= sizes.width - sizes.margin + 1e-6 && y + 0.2 * letters <= sizes.height,
            "{:?}",
            text.text()
        );
        for placed in label.symbols() {
            let [left, top, wide, high] = placed.area;
            let apart = x >= left + wide || x + width <= left || y <= top || y - letters >= top + high - 1e-6;
            assert!(apart, "{:?} stands in {placed:?}", text.text());
        }
    }
}

fn texts(label: &Label) -> String {
    let svg = label.svg();
    let document = Document::parse(&svg).unwrap();
    let lines = document.descendants().filter(|node| node.tag_name().name() == "text");
    lines.map(|node| node.text().unwrap().to_owned()).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_kind_holds_the_shortest_and_the_longest_code() {
    for kind in LabelKind::ALL {
        for code in ["7", "FT-1042", LONGEST, DIGITS, "A._-._-._-._-._-._-._-._-._-._-."] {
            for address in [None, Some(ADDRESS)] {
                let label =
                    Label::new(kind, &said(code), address).unwrap_or_else(|error| panic!("{kind:?} {code}: {error}"));
                examine(&label);
                let shown: String = texts(&label).split(' ').collect();
                assert!(shown.contains(code), "{kind:?}: {shown}");
                assert!(shown.contains("OnlyformachineM-101"), "{kind:?}: {shown}");
                for placed in label.symbols() {
                    let expected = match placed.symbology {
                        Symbology::Qr => address_of(label.code(), address),
                        Symbology::DataMatrix | Symbology::Code128 => code.to_owned(),
                    };
                    assert_eq!(placed.text, expected);
                }
            }
        }
        assert_eq!(LabelKind::from_name(kind.name()), Some(kind));
    }
}

#[test]
fn bars_are_left_out_where_only_a_square_symbol_fits() {
    let symbologies = |kind, code: &str| -> Vec<Symbology> {
        let label = Label::new(kind, &said(code), None).unwrap();
        label.symbols().iter().map(|placed| placed.symbology).collect()
    };
    assert_eq!(symbologies(LabelKind::BinLabel, "FT-1042"), [Symbology::Qr, Symbology::Code128]);
    assert_eq!(symbologies(LabelKind::BinLabel, LONGEST), [Symbology::Qr]);
    assert_eq!(symbologies(LabelKind::ShelfStrip, LONGEST), [Symbology::Code128]);
    assert_eq!(symbologies(LabelKind::ToolTag, LONGEST), [Symbology::DataMatrix]);
}

#[test]
fn a_shelfs_code_is_read_from_two_metres() {
    for (code, bars) in [("FT-1042", 22.0), ("SUP-GREASE", 22.0), (LONGEST, 13.0)] {
        let only = Said { essential: Vec::new(), further: Vec::new(), ..said(code) };
        let label = Label::new(LabelKind::ShelfStrip, &only, None).unwrap();
        examine(&label);
        assert!((label.symbols()[0].area[3] - bars).abs() < 1e-9, "{code}");
        let svg = label.svg();
        let document = Document::parse(&svg).unwrap();
        let shown = document.descendants().find(|node| node.text() == Some(code) && node.tag_name().name() == "text");
        let letters = shown.map(|node| node.attribute("font-size").unwrap().parse::<f64>().unwrap());
        assert!(code == LONGEST || letters.is_some_and(|letters| letters >= 10.0), "{code}: {letters:?}");
    }
}

#[test]
fn what_cannot_be_read_is_refused() {
    let address = format!("https://{}.example", "a".repeat(200));
    let refused = Label::new(LabelKind::GaugeTag, &said("CG-101"), Some(&address));
    assert_eq!(refused, Err(LabelError::Symbol));
    let long = Said { essential: vec!["word ".repeat(400)], ..said("CG-101") };
    assert_eq!(Label::new(LabelKind::GaugeTag, &long, None), Err(LabelError::Text));
    assert_eq!(Symbol::of(Symbology::Qr, "\u{c4}"), Err(SymbolError::Characters));
    assert_eq!(Symbol::of(Symbology::Qr, &"A".repeat(5000)), Err(SymbolError::Length));
    assert_eq!(Symbol::of(Symbology::DataMatrix, &"A".repeat(5000)), Err(SymbolError::Length));
    assert_eq!(Symbol::of(Symbology::DataMatrix, ""), Err(SymbolError::Length));
}

#[test]
fn a_code_is_an_address_where_the_shop_has_one() {
    let code = Code::parse("CG-101").unwrap();
    assert_eq!(address_of(&code, Some(ADDRESS)), "https://tooling.shop.example:8443/s/CG-101");
    assert_eq!(address_of(&code, None), "CG-101");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn any_code_fits_on_any_label(code in "[A-Z0-9][A-Z0-9._-]{0,31}", kind in 0..LabelKind::ALL.len()) {
        prop_assume!(Code::parse(&code).is_ok());
        examine(&Label::new(LabelKind::ALL[kind], &said(&code), Some(ADDRESS)).unwrap());
    }
}

#[test]
fn sheets_hold_labels_beside_each_other_on_the_paper() {
    for kind in LabelKind::ALL {
        for paper in [Paper::A4, Paper::Letter, Paper::EachItsOwn] {
            let (sheet, sizes) = (Sheet::of(kind, paper), kind.sizes());
            for index in 0..sheet.holds() {
                let (x, y) = sheet.corner(index);
                assert!(x >= 0.0 && x + sizes.width <= sheet.width + 1e-9, "{kind:?} {paper:?} {sheet:?}");
                assert!(y >= 0.0 && y + sizes.height <= sheet.height + 1e-9, "{kind:?} {paper:?} {sheet:?}");
                for other in 0..index {
                    let (other_x, other_y) = sheet.corner(other);
                    let apart = (x - other_x).abs() >= sizes.width || (y - other_y).abs() >= sizes.height;
                    assert!(apart, "{kind:?} {paper:?}: {index} {other}");
                }
            }
            assert_eq!(Paper::from_name(paper.name()), Some(paper));
        }
    }
    let sheet = Sheet::of(LabelKind::ToolTag, Paper::A4);
    let labels: Vec<Label> = (1..=sheet.holds())
        .map(|number| Label::new(LabelKind::ToolTag, &said(&format!("FT-{number}")), None).unwrap())
        .collect();
    assert_eq!(sheets(&labels, &sheet, 0).len(), 1);
    let begun = sheets(&labels, &sheet, 3);
    assert_eq!(begun.len(), 2);
    let last = Document::parse(&begun[1]).unwrap();
    assert_eq!(last.descendants().filter(|node| node.tag_name().name() == "g").count(), 3);
    assert_eq!(last.root_element().attribute("width"), Some("210mm"));
    assert!(sheets(&[], &sheet, 0).is_empty());
}

fn mm(value: f64) -> Length {
    Length::new(value, LengthUnit::Millimetre).unwrap()
}

fn travelling() -> TravellerView {
    TravellerView {
        tool: Code::parse("FT-1042").unwrap(),
        name: "Form tool, head".to_owned(),
        design: Code::parse("TD-9").unwrap(),
        kind: ToolDesignKind::Circular,
        condition: Condition::NeedsGrinding,
        whereabouts: Where {
            kind: HolderOfRecord::Place,
            key: "BIN-A1".to_owned(),
            name: "BIN-A1".to_owned(),
            outside: false,
        },
        height: mm(35.0),
        minimum_height: mm(30.0),
        usable_angle_deg: Some(9.549_296_59),
        regrind_count: 3,
        pieces_on_edge: 5200,
        target: GrindTarget {
            height: Some(mm(33.25)),
            height_loss: mm(1.75),
            stock: mm(1.732),
            usable_angle_deg: Some(6.200_000_01),
            regrinds_left: 1,
            retires: false,
        },
        rake_deg: 10.0,
        rake_tolerance_deg: 0.5,
        clearance_deg: 20.5,
        face_offset: Some(mm(15.125)),
        owner: Some("A customer".to_owned()),
        reserved_for: None,
        consent: "given",
        checks: vec![
            "Measure the usable angle before and after.".to_owned(),
            "Look for burn along the whole edge.".to_owned(),
        ],
        cautions: dovetally_core::life::traveller::CAUTIONS.iter().map(|text| (*text).to_owned()).collect(),
        written_at: "2026-05-04T06:00:00Z".parse().unwrap(),
    }
}

#[test]
fn a_traveller_says_all_that_the_grinder_has_to_know() {
    let format = Plain { decimal_mark: ',', zone: Utc };
    let words = &Words::of(Language::default()).traveller;
    let label = traveller::label(&travelling(), words, &format, Some(ADDRESS)).unwrap();
    examine(&label);
    let shown = texts(&label);
    for expected in [
        "FT-1042",
        "Grind to a usable angle of: 6,2\u{b0}",
        "Usable angle now: 9,55\u{b0}",
        "Rake: 10\u{b0}",
        "Clearance: 20,5\u{b0}",
        "Face offset from the centre: 15,125 mm",
        "Belongs to: A customer",
        "[ ] Look for burn along the whole edge.",
        "2026-05-04 06:00",
    ] {
        assert!(shown.contains(expected), "{expected}: {shown}");
    }
    for caution in dovetally_core::life::traveller::CAUTIONS {
        assert!(shown.contains(caution), "{caution}: {shown}");
    }
    assert!(!shown.contains("33,25") && !shown.contains("35 mm"), "nobody measures an arc: {shown}");
    let mut last = travelling();
    last.target.retires = true;
    assert_eq!(traveller::facts(&last, words, &format)[0].value, words.nothing_left);
    let mut unknown = travelling();
    (unknown.usable_angle_deg, unknown.target.usable_angle_deg) = (None, None);
    let facts = traveller::facts(&unknown, words, &format);
    assert_eq!((facts[0].name, facts[0].value.as_str()), ("Grind to an arc of", "33,25 mm"));
    let mut nothing = travelling();
    (nothing.usable_angle_deg, nothing.target.usable_angle_deg) = (None, None);
    nothing.target.height = None;
    nothing.kind = ToolDesignKind::Flat;
    nothing.face_offset = None;
    let facts = traveller::facts(&nothing, words, &format);
    assert_eq!((facts[0].name, facts[0].value.as_str()), ("Grind to a height of", words.nothing_left.as_str()));
    assert!(facts.iter().all(|fact| fact.name != words.face_offset));
    let mut wordy = travelling();
    wordy.checks = vec!["a check that goes on ".repeat(400)];
    assert_eq!(traveller::label(&wordy, words, &format, None), Err(LabelError::Text));
}
