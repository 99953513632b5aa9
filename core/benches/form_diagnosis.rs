//! How long `form-diagnosis` takes with eight readings, without rake and with 8° of it: the whole calculation with its
//! steps, corrections and sentences, from a request already read, and from JSON to JSON.
#![expect(clippy::unwrap_used, reason = "a benchmark may panic")]

use criterion::{Criterion, criterion_group, criterion_main};
use dovetally_core::calc::{
    Calculation, find,
    form_diagnosis::{FormDiagnosis, Request},
};
use std::hint::black_box;

/// Also read by `tests/bench/form-diagnosis`, which puts another solver beside these.
const REQUESTS: &str = include_str!("form_diagnosis.json");

fn form_diagnosis(criterion: &mut Criterion) {
    let entry = find(FormDiagnosis::NAME).unwrap();
    let requests: Vec<Request> = serde_json::from_str(REQUESTS).unwrap();
    for request in requests {
        let text = serde_json::to_string(&request).unwrap();
        let mut group = criterion.benchmark_group(format!("form-diagnosis-rake-{}", request.rake_deg));
        group.bench_function("typed", |b| b.iter(|| FormDiagnosis::calculate(black_box(&request)).unwrap()));
        group.bench_function("json", |b| b.iter(|| (entry.calculate)(black_box(text.as_bytes())).unwrap()));
        group.finish();
    }
}

criterion_group!(benches, form_diagnosis);
criterion_main!(benches);
