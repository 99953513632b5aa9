//! Reads labels, one JSON document a line, as a printer prints them and a scanner sees them.
//!
//! The printer has dots of one size, black or white, and the label's corner lies anywhere between two of them. The label lies on
//! a dark bench, so that only its own quiet zones are light; the scanner sees three by three points for each dot.
//!
//! A line with `dots` is a print that somebody else made: a file of bytes, one a dot, `across` of them a row, so many dots a
//! millimetre. The tests of the pages send what the browser prints.

use resvg::{
    tiny_skia::{Pixmap, Transform},
    usvg::{Options, Tree},
};
use rxing::{BarcodeFormat, helpers::detect_in_luma};
use serde_json::Value;
use std::{collections::BTreeMap, io::BufRead, process::ExitCode};

/// Points that a scanner sees across one dot.
const SEEN: usize = 3;
/// The bench around the label, in dots.
const BENCH: usize = 10;
/// How far a scanner sees about a symbol, in millimetres of the label: not a whole sheet.
const SIGHT: f64 = 15.0;
const DARK: u8 = 40;
const LIGHT: u8 = 235;

/// A label in dots, dark or light.
struct Print {
    width: usize,
    dark: Vec<bool>,
}

/// Prints a label of so many millimetres.
fn print(tree: &Tree, (width, height): (f64, f64), dots_a_millimetre: f64, offset: (f64, f64)) -> Option<Print> {
    let dots = |millimetres: f64| (millimetres * dots_a_millimetre).ceil() as u32 + 1;
    let mut paper = Pixmap::new(dots(width), dots(height))?;
    paper.fill(resvg::tiny_skia::Color::WHITE);
    let scale = (width * dots_a_millimetre) as f32 / tree.size().width();
    let transform = Transform::from_row(scale, 0.0, 0.0, scale, offset.0 as f32, offset.1 as f32);
    resvg::render(tree, transform, &mut paper.as_mut());
    let dark = paper.pixels().iter().map(|pixel| u16::from(pixel.red()) + u16::from(pixel.green()) < 255).collect();
    Some(Print { width: paper.width() as usize, dark })
}

/// What a scanner sees of a part of a print, left, top, right and bottom in dots, on a dark bench.
fn seen(print: &Print, [left, top, right, bottom]: [usize; 4]) -> (Vec<u8>, u32, u32) {
    let (width, height) = (right - left + 2 * BENCH, bottom - top + 2 * BENCH);
    let mut luma = Vec::with_capacity(width * height * SEEN * SEEN);
    for y in 0..height * SEEN {
        for x in 0..width * SEEN {
            let (column, row) = ((x / SEEN + left).wrapping_sub(BENCH), (y / SEEN + top).wrapping_sub(BENCH));
            let on_label = (left..right).contains(&column) && (top..bottom).contains(&row);
            luma.push(if on_label && !print.dark[row * print.width + column] { LIGHT } else { DARK });
        }
    }
    (luma, (width * SEEN) as u32, (height * SEEN) as u32)
}

fn read(print: &Print, part: [usize; 4], format: BarcodeFormat) -> Result<String, String> {
    let (luma, width, height) = seen(print, part);
    detect_in_luma(luma, width, height, Some(format))
        .map(|found| found.getText().to_owned())
        .map_err(|error| error.to_string())
}

fn format_of(name: &str) -> Result<BarcodeFormat, String> {
    match name {
        "QRCode" => Ok(BarcodeFormat::QR_CODE),
        "DataMatrix" => Ok(BarcodeFormat::DATA_MATRIX),
        "Code128" => Ok(BarcodeFormat::CODE_128),
        other => Err(format!("no decoder for {other}")),
    }
}

fn number(value: &Value) -> Result<f64, String> {
    value.as_f64().ok_or_else(|| format!("{value} is no number"))
}

fn text(value: &Value) -> Result<&str, String> {
    value.as_str().ok_or_else(|| format!("{value} is no text"))
}

/// Reads every symbol of a print that the browser made, each alone with its quiet zone.
fn examine_print(label: &Value, counts: &mut BTreeMap<String, usize>) -> Result<(), String> {
    let dots = std::fs::read(text(&label["dots"])?).map_err(|error| error.to_string())?;
    let width = number(&label["across"])? as usize;
    let print = Print { width, dark: dots.iter().map(|dot| *dot < 128).collect() };
    let (most_right, most_down) = (width, dots.len() / width);
    for symbol in label["symbols"].as_array().ok_or("a print without symbols")? {
        let (format, expected) = (text(&symbol["format"])?, text(&symbol["text"])?);
        let area: Vec<f64> = symbol["area"].as_array().into_iter().flatten().map(number).collect::<Result<_, _>>()?;
        let [x, y, width, height] = *area.as_slice() else { return Err("a symbol without an area".to_owned()) };
        let part = [x, y, x + width, y + height].map(|place| place.round() as usize);
        if part[2] > most_right || part[3] > most_down {
            return Err(format!("{format} of {expected} lies off the paper"));
        }
        let told = read(&print, part, format_of(format)?).unwrap_or_else(|error| format!("({error})"));
        if told != expected {
            return Err(format!("{format} as {}: {told} instead of {expected}", label["as"]));
        }
        *counts.entry(format!("{format} as {}", text(&label["as"])?)).or_default() += 1;
    }
    Ok(())
}

/// Reads every symbol of one label, and counts what was read by symbol, dots an inch and size.
fn examine(line: &str, counts: &mut BTreeMap<String, usize>) -> Result<(), String> {
    let label: Value = serde_json::from_str(line).map_err(|error| error.to_string())?;
    if label.get("dots").is_some() {
        return examine_print(&label, counts);
    }
    let size = (number(&label["width"])?, number(&label["height"])?);
    let tree = Tree::from_str(text(&label["svg"])?, &Options::default()).map_err(|error| error.to_string())?;
    for dots_an_inch in [203.0, 300.0] {
        for percent in [100.0, 80.0] {
            let share = percent / 100.0;
            let dots = dots_an_inch / 25.4 * share;
            for offset in [(0.0, 0.0), (0.37, 0.61)] {
                let print = print(&tree, size, dots, offset).ok_or("the label has no size")?;
                for symbol in label["symbols"].as_array().ok_or("a label without symbols")? {
                    let (format, expected) = (text(&symbol["format"])?, text(&symbol["text"])?);
                    let area: Vec<f64> =
                        symbol["area"].as_array().into_iter().flatten().map(number).collect::<Result<_, _>>()?;
                    let [x, y, width, height] = *area.as_slice() else {
                        return Err("a symbol without an area".to_owned());
                    };
                    // A scanner is aimed at one symbol: where a label has two, the other one is not in sight; else it sees
                    // what stands beside it.
                    let alone = label["symbols"].as_array().is_some_and(|all| all.len() == 1);
                    let about = if alone { SIGHT } else { 0.0 };
                    let (right, bottom) = ((x + width + about).min(size.0), (y + height + about).min(size.1));
                    let part = [(x - about).max(0.0), (y - about).max(0.0), right, bottom]
                        .map(|place| (place * dots).round() as usize);
                    let told = read(&print, part, format_of(format)?).unwrap_or_else(|error| format!("({error})"));
                    if told != expected {
                        return Err(format!(
                            "{format} on a {} at {percent} % and {dots_an_inch} dots an inch, offset {offset:?}: {told} instead of {expected}",
                            label["kind"]
                        ));
                    }
                    *counts.entry(format!("{format} {dots_an_inch} dots an inch {percent} %")).or_default() += 1;
                }
            }
        }
    }
    Ok(())
}

fn main() -> ExitCode {
    let mut counts = BTreeMap::new();
    let mut failed = 0;
    for line in std::io::stdin().lock().lines().map_while(Result::ok) {
        if let Err(error) = examine(&line, &mut counts) {
            println!("{error}");
            failed += 1;
        }
    }
    for (what, count) in &counts {
        println!("{what}: {count} read");
    }
    // Three symbols, two printers, two sizes, unless told otherwise: fewer means that something was not looked at.
    let combinations = std::env::args().nth(1).and_then(|count| count.parse().ok()).unwrap_or(12);
    if counts.len() != combinations {
        println!("{} of {combinations} combinations were read", counts.len());
        failed += 1;
    }
    if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
