//! The grinder's traveller: what to grind a tool to and what to check, as data and as a label.

use super::{
    kind::LabelKind,
    label::{Label, LabelError},
    text::Item,
};
use crate::{
    drawing::{Format, words::fill},
    transport::traveller::TravellerView,
};
use dovetally_core::{length::Length, registry::tool_design::ToolDesignKind};
use serde::Deserialize;

/// The words of a traveller. The checks and what to be careful of come with the answer.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TravellerWords {
    /// What the label is.
    pub heading: String,
    /// The tool's design.
    pub design: String,
    /// The height to grind to.
    pub target_height: String,
    /// The arc to grind to.
    pub target_arc: String,
    /// The usable angle to grind to.
    pub target_angle: String,
    /// In its place: nothing would be left.
    pub nothing_left: String,
    /// The height now.
    pub height: String,
    /// The arc now.
    pub arc: String,
    /// The usable angle now.
    pub angle: String,
    /// The smallest height or arc that is used.
    pub minimum: String,
    /// Stock, normal to the cutting face.
    pub stock: String,
    /// Rake.
    pub rake: String,
    /// Clearance.
    pub clearance: String,
    /// The face's distance from the tool's centre.
    pub face_offset: String,
    /// `{degrees}`.
    pub degrees: String,
    /// Grinds left afterwards.
    pub grinds_left: String,
    /// Who owns it.
    pub owner: String,
    /// What to check.
    pub checks: String,
    /// What to be careful of.
    pub cautions: String,
    /// When this was written: `{at}`.
    pub written: String,
}

/// One line of a traveller: what it is, and what it is for this tool.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact<'w> {
    /// What.
    pub name: &'w str,
    /// How much.
    pub value: String,
}

/// What the grinder has to know, the target first.
#[must_use]
pub fn facts<'w>(traveller: &TravellerView, words: &'w TravellerWords, format: &dyn Format) -> Vec<Fact<'w>> {
    let length = |length: Length| format!("{} {}", format.length(length.value()), length.unit().sign());
    let degrees = |angle: f64| fill(&words.degrees, &[("degrees", &format.length(angle))]);
    // An angle is read off an index plate: to a hundredth of a degree.
    let read_off = |angle: f64| degrees((angle * 100.0).round() / 100.0);
    let nothing = || words.nothing_left.to_owned();
    let target = &traveller.target;
    let mut facts = if let Some(angle) = traveller.usable_angle_deg {
        let to = target.usable_angle_deg.filter(|_| !target.retires).map_or_else(nothing, read_off);
        vec![Fact { name: &words.target_angle, value: to }, Fact { name: &words.angle, value: read_off(angle) }]
    } else {
        let (name, now) = match traveller.kind {
            ToolDesignKind::Flat => (&words.target_height, &words.height),
            ToolDesignKind::Circular => (&words.target_arc, &words.arc),
        };
        vec![
            Fact { name, value: target.height.map_or_else(nothing, length) },
            Fact { name: now, value: length(traveller.height) },
            Fact { name: &words.minimum, value: length(traveller.minimum_height) },
        ]
    };
    facts.extend([
        Fact { name: &words.stock, value: length(target.stock) },
        Fact { name: &words.rake, value: degrees(traveller.rake_deg) },
        Fact { name: &words.clearance, value: degrees(traveller.clearance_deg) },
    ]);
    facts.extend(traveller.face_offset.map(|offset| Fact { name: &words.face_offset, value: length(offset) }));
    facts.push(Fact { name: &words.grinds_left, value: traveller.target.regrinds_left.to_string() });
    facts.push(Fact { name: &words.design, value: traveller.design.to_string() });
    facts.extend(traveller.owner.clone().map(|owner| Fact { name: &words.owner, value: owner }));
    facts
}

/// The traveller as a label.
///
/// # Errors
/// [`LabelError`] where something has no room.
pub fn label(
    traveller: &TravellerView,
    words: &TravellerWords,
    format: &dyn Format,
    public_address: Option<&str>,
) -> Result<Label, LabelError> {
    let beside = [
        Item::essential(&words.heading, 5.0),
        Item::code(traveller.tool.as_str(), LabelKind::Traveller.sizes().code_letters),
        Item::words(&traveller.name, 4.0),
        Item::words(fill(&words.written, &[("at", &format.instant(traveller.written_at))]), 2.6),
    ];
    let facts = facts(traveller, words, format);
    // Nothing of what is ground, checked or minded is left out: where it has no room, there is no label.
    let plain = |text: String| Item { bold: false, ..Item::essential(text, 3.4) };
    let mut below: Vec<Item> = facts.iter().map(|fact| plain(format!("{}: {}", fact.name, fact.value))).collect();
    if let Some(target) = below.first_mut() {
        *target = Item::essential(&target.text, 5.5);
    }
    below.push(Item::essential(&words.checks, 3.6));
    below.extend(traveller.checks.iter().map(|check| plain(format!("[ ] {check}"))));
    below.push(Item::essential(&words.cautions, 3.6));
    below.extend(traveller.cautions.iter().map(|caution| plain(format!("- {caution}"))));
    Label::with_items(LabelKind::Traveller, &traveller.tool, &beside, &below, public_address)
}
