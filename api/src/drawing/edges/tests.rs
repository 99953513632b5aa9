use super::draw;
use crate::drawing::{
    Drawing,
    testing::{DESK, PHONE, Ruler, by_class, picture, points, read},
    words::ENGLISH,
};
use dovetally_core::{
    code::Code,
    life::{
        edge::EdgeLives,
        left::{Basis, EdgesLeft, Experience},
    },
};
use roxmltree::Document;

fn drawn(lives: &EdgeLives, setting: &crate::drawing::Setting<'_>) -> (Drawing, Experience) {
    let experience = Experience::of(lives, 5000);
    (draw(&Code::parse("TD-9").unwrap(), lives, &experience, &ENGLISH, setting), experience)
}

/// The numbers of edges that bars of a class stand for, by where they begin.
fn heights(document: &Document<'_>, class: &str) -> Vec<(f64, f64)> {
    let (xs, all) = (by_class(document, class, "x"), by_class(document, class, "height"));
    xs.into_iter().zip(all).collect()
}

/// How many pixels one edge is high.
fn edge_height(document: &Document<'_>) -> f64 {
    let places = by_class(document, "chart-grid", "y1");
    let labels: Vec<f64> = document
        .descendants()
        .filter(|node| node.attribute("class") == Some("chart-text chart-y"))
        .map(|node| read(node.text().unwrap()))
        .collect();
    (places[0] - places[1]) / (labels[1] - labels[0])
}

#[test]
fn worn_and_other_edges_are_told_apart_and_counted_as_the_table_counts() {
    let lives = EdgeLives {
        failures: vec![3100.0, 4200.0, 4700.0, 5200.0, 6100.0, 7400.0, 5000.0],
        suspensions: vec![2000.0, 5000.0, 6500.0],
    };
    for setting in [DESK, PHONE] {
        let (drawing, experience) = drawn(&lives, &setting);
        let document = picture(&drawing, &setting);
        let one = edge_height(&document);
        let bars: Vec<&Vec<String>> = drawing.table.rows.iter().filter(|row| row[0].contains('\u{2026}')).collect();
        for (class, column, total) in [("chart-bar", 1, 7.0), ("chart-bar-open", 2, 3.0)] {
            let told: Vec<f64> = bars.iter().map(|row| read(&row[column])).filter(|count| *count > 0.0).collect();
            let seen = heights(&document, class);
            assert_eq!(told.len(), seen.len());
            assert_eq!(told.iter().sum::<f64>(), total);
            for (told, (_, height)) in told.iter().zip(&seen) {
                assert!((height / one - told).abs() < 0.01, "{height} {one} {told}");
            }
        }
        // A worn edge is filled and another one is an outline, dashed.
        let open = document.descendants().find(|node| node.attribute("class") == Some("chart-bar-open")).unwrap();
        assert_eq!(open.attribute("fill"), Some("none"));
        assert!(open.attribute("stroke-dasharray").is_some());

        let across = Ruler::across(&document, read);
        let fresh = experience.pieces_left(&EdgesLeft { in_use: Vec::new(), fresh: 1 });
        let (lower, upper) = fresh.interval.unwrap();
        across.assert(by_class(&document, "chart-error", "x1")[0], lower);
        across.assert(by_class(&document, "chart-error", "x2")[0], upper);
        across.assert(by_class(&document, "chart-open", "cx")[0], fresh.expected);
        let written = setting.format.fixed(fresh.expected, 0);
        assert!(drawing.summary.contains(&written), "{}", drawing.summary);
        // What the distribution expects in all bars is at most all edges, and its curve peaks among them.
        let expected: f64 = bars.iter().map(|row| read(&row[3])).sum();
        assert!(expected > 8.0 && expected < 10.0, "{expected}");
        let peak = points(&document, "chart-line").into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        let Basis::Learned(learned) = experience.basis else { panic!("seven worn edges teach") };
        let mode = learned.scale * (1.0 - 1.0 / learned.shape).powf(1.0 / learned.shape);
        assert!((across.value(peak.0) - mode).abs() < 600.0, "{} {mode}", across.value(peak.0));
    }
}

#[test]
fn no_edge_one_edge_edges_alike_and_a_far_one() {
    let lives = |failures: &[f64], suspensions: &[f64]| EdgeLives {
        failures: failures.to_vec(),
        suspensions: suspensions.to_vec(),
    };
    for lives in [
        lives(&[], &[]),
        lives(&[1.0], &[]),
        lives(&[], &[4000.0]),
        lives(&[5000.0; 8], &[]),
        lives(&[4.0, 5.0, 6.0, 7.0, 90_000_000.0], &[3.0]),
    ] {
        for setting in [DESK, PHONE] {
            let (drawing, _) = drawn(&lives, &setting);
            let document = picture(&drawing, &setting);
            Ruler::upward(&document);
            let edges: f64 = drawing
                .table
                .rows
                .iter()
                .filter(|row| row[0].contains('\u{2026}'))
                .map(|row| read(&row[1]) + read(&row[2]))
                .sum();
            assert_eq!(edges, (lives.failures.len() + lives.suspensions.len()) as f64);
        }
    }
    assert_eq!(drawn(&lives(&[], &[]), &DESK).0.summary, ENGLISH.edges.none);
}
