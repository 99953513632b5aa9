//! What a form tool takes along to the grinder: what to grind it to, what to check, what to be careful of.

use super::{
    geometry::{face_offset, face_offset_limits},
    grinds::grinds_left,
    measure::Measure,
    ownership::Ownership,
};
use crate::{code::Code, length::Length, registry::tool_design::ToolDesignFields};
use chrono::NaiveDate;

/// The target of one usual grind.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The height (flat) or arc (circular) to grind to.
    pub height: Length,
    /// What the grind takes along the relief face.
    pub height_loss: Length,
    /// The same as stock, normal to the cutting face: `loss · cos(α + γ)`.
    pub stock: Length,
    /// Circular tools with a radius: the face's distance from the tool's centre, `R sin(α + γ)`.
    pub face_offset: Option<Length>,
    /// Circular tools with a radius: the angle left afterwards.
    pub usable_angle_deg: Option<f64>,
    /// Whole grinds left after this one.
    pub grinds_left: u64,
    /// Whether the tool would be below its design's minimum then, and retire.
    pub retires: bool,
}

/// The target of one usual grind of a tool of so much height.
#[must_use]
pub fn target(design: &ToolDesignFields, height: Length) -> Target {
    let loss = design.grind_stock;
    let after = height.minus(loss);
    let cosine = (design.clearance_deg + design.rake_deg).to_radians().cos();
    Target {
        height: after,
        height_loss: loss,
        stock: Length::new(loss.value() * cosine, loss.unit()).unwrap_or(loss),
        face_offset: face_offset(design),
        usable_angle_deg: design.usable_angle_of(after),
        grinds_left: grinds_left(after, design.minimum_height, loss),
        retires: after < design.minimum_height,
    }
}

/// What is to be checked, in the order of the work.
#[must_use]
pub fn checks(design: &ToolDesignFields, target: &Target) -> Vec<String> {
    let measure = Measure::of(design);
    let what = measure.name();
    let mut checks = vec![
        // An angle that ends below nothing is on no index plate.
        if measure.is_angle() && target.retires {
            format!("Measure the {what} before and after; one usual grind takes {}.", measure.part(target.height_loss))
        } else {
            format!("Measure the {what} before and after; one usual grind ends at {}.", measure.left(target.height))
        },
        format!(
            "Grind normal to the cutting face only, {} of stock at most unless the wear land asks for more.",
            target.stock.read_off()
        ),
        format!("Rake {} ± {} degrees, measured after the grind.", design.rake_deg, design.rake_tolerance_deg),
    ];
    if let (Some(offset), Some((least, most))) = (target.face_offset, face_offset_limits(design)) {
        let [offset, least, most] = [offset, least, most].map(Length::read_off);
        checks.push(format!(
            "Face offset from the tool's centre {offset}, from {least} to {most}, measured after the grind."
        ));
    }
    checks
        .push("Look for burn and cracks along the whole edge, and record burn even when it was ground out.".to_owned());
    checks.push("Compare the profile with the design's.".to_owned());
    checks.push("Somebody else than who ground it checks the tool before it is used.".to_owned());
    checks
}

/// What to be careful of. The program is no safety device, and says so.
pub const CAUTIONS: [&str; 3] = [
    "The edge is sharp, worn or not: keep it covered while it is carried, and hold it by its body.",
    "Guard and inspect the wheel, stand clear when it starts, and wear eye protection, as the wheel's and the machine's makers and the local rules say.",
    "This label is advice from records: it replaces no guard, no instruction and no judgement of a qualified person.",
];

/// Where the owner's consent to grind stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConsentState {
    /// The shop's own tool: none is needed.
    NotNeeded,
    /// On record, and it holds.
    Given,
    /// Needed, and not there.
    Missing,
}

/// Where the owner's consent to grind a tool stands on a day.
#[must_use]
pub fn consent_to_grind(tool: &Code, ownership: &Ownership, on: NaiveDate) -> ConsentState {
    if ownership.belonging.owner.is_none() {
        ConsentState::NotNeeded
    } else if ownership.grind_refused(tool, on).is_some() {
        ConsentState::Missing
    } else {
        ConsentState::Given
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        life::example::{circular, mm},
        registry::tool_design::ToolDesignKind,
    };

    /// α = 20°, γ = 10°: half of R is the face offset, and cos 30° of the loss is stock (derived).
    #[test]
    fn a_usual_grind_of_a_circular_tool() {
        let design = ToolDesignFields { minimum_height: mm(30.0), grind_stock: mm(2.0), ..circular() };
        let found = target(&design, mm(35.0));
        assert_eq!((found.height, found.height_loss, found.face_offset), (mm(33.0), mm(2.0), Some(mm(15.0))));
        assert!((found.stock.millimetres() - 1.732_050_808).abs() < 1e-9);
        assert!((found.usable_angle_deg.unwrap() - (3.0_f64 / 30.0).to_degrees()).abs() < 1e-8);
        assert_eq!((found.grinds_left, found.retires), (1, false));
        assert!(target(&design, mm(31.9)).retires && !target(&design, mm(32.0)).retires);
        let told = checks(&design, &found).join(" ");
        // 3 of 30 mm are a tenth of a radian, 5.7296°; the 2 mm of a grind are 3.8197°, more than 1.9 mm leave.
        assert!(
            told.contains("Measure the usable angle before and after; one usual grind ends at 5.73°.")
                && !told.contains("33 mm")
                && told.contains("15 mm")
                && told.contains("1.7321 mm of stock")
                && told.contains("Rake 10 ± 0.5 degrees"),
            "{told}"
        );
        let last = checks(&design, &target(&design, mm(31.9))).join(" ");
        assert!(last.contains("one usual grind takes 3.82°."), "{last}");
        let unknown = ToolDesignFields { tool_radius: None, ..design.clone() };
        let told = checks(&unknown, &target(&unknown, mm(35.0))).join(" ");
        assert!(told.contains("Measure the arc before and after; one usual grind ends at 33 mm."), "{told}");
        let flat = ToolDesignFields { kind: ToolDesignKind::Flat, tool_radius: None, ..design };
        let told = checks(&flat, &target(&flat, mm(35.0))).join(" ");
        assert!(told.contains("the height before") && !told.contains("offset"), "{told}");
    }
}
