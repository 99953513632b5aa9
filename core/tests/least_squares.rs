//! The least-squares solver against certified values of the NIST Statistical Reference Datasets (StRD,
//! <https://www.itl.nist.gov/div898/strd/>): Norris, Misra1a and Rat42, from both published starting points. Data and
//! certified values of Misra1a and Rat42: copies of the files seen; Norris: transcriptions in several public test
//! suites compared.
#![expect(clippy::unwrap_used, reason = "a test may panic")]

use dovetally_core::calc::least_squares::{FitError, Model, fit};
use nalgebra::SVector;

/// A curve and its derivatives with respect to its parameters.
type Curve<const N: usize> = fn(f64, &SVector<f64, N>) -> (f64, SVector<f64, N>);

struct Data<const N: usize> {
    points: &'static [(f64, f64)],
    curve: Curve<N>,
}

impl<const N: usize> Model<N> for Data<N> {
    fn len(&self) -> usize {
        self.points.len()
    }

    fn residual(&self, index: usize, parameters: &SVector<f64, N>) -> Option<(f64, SVector<f64, N>)> {
        let (y, x) = self.points[index];
        let (fitted, derivatives) = (self.curve)(x, parameters);
        Some((fitted - y, derivatives))
    }
}

/// Agreement to nine significant digits and better: estimates, their standard deviations, the residual sum of squares
/// and its standard deviation.
fn certified<const N: usize>(
    data: &Data<N>,
    starts: &[[f64; N]],
    estimates: [f64; N],
    deviations: [f64; N],
    sum_of_squares: f64,
    residual_deviation: f64,
) {
    for start in starts {
        let found = fit(data, SVector::from(*start)).unwrap();
        let degrees = f64::from(u32::try_from(data.points.len() - N).unwrap());
        let spread = (found.sum_of_squares / degrees).sqrt();
        let near = |what: &str, got: f64, expected: f64| {
            assert!(
                ((got - expected) / expected).abs() < 5e-10,
                "{what} from {start:?}: {got:e}, certified {expected:e}"
            );
        };
        for i in 0..N {
            near("estimate", found.unknowns[i], estimates[i]);
            near("standard deviation", spread * found.covariance[(i, i)].sqrt(), deviations[i]);
        }
        near("sum of squares", found.sum_of_squares, sum_of_squares);
        near("residual standard deviation", spread, residual_deviation);
    }
}

#[test]
fn norris_certified_values() {
    let data = Data { points: NORRIS, curve: |x, b| (b[0] + b[1] * x, SVector::from([1.0, x])) };
    certified(
        &data,
        &[[0.0, 0.0], [100.0, -5.0]],
        [-0.262_323_073_774_029, 1.002_116_818_020_45],
        [0.232_818_234_301_152, 0.429_796_848_199_937e-3],
        26.617_398_529_422_4,
        0.884_796_396_144_373,
    );
}

#[test]
fn misra1a_certified_values() {
    let data = Data {
        points: MISRA1A,
        curve: |x, b| {
            let fall = (-b[1] * x).exp();
            (b[0] * (1.0 - fall), SVector::from([1.0 - fall, b[0] * x * fall]))
        },
    };
    certified(
        &data,
        &[[500.0, 0.0001], [250.0, 0.0005]],
        [238.942_129_18, 0.000_550_156_431_81],
        [2.707_007_524_1, 7.266_868_843_6e-6],
        0.124_551_388_94,
        0.101_878_763_30,
    );
}

#[test]
fn rat42_certified_values() {
    let data = Data {
        points: RAT42,
        curve: |x, b| {
            let power = (b[1] - b[2] * x).exp();
            let under = 1.0 + power;
            let slope = -b[0] * power / (under * under);
            (b[0] / under, SVector::from([1.0 / under, slope, -x * slope]))
        },
    };
    certified(
        &data,
        &[[100.0, 1.0, 0.1], [75.0, 2.5, 0.07]],
        [72.462_237_576, 2.618_076_840_2, 0.067_359_200_066],
        [1.734_028_340_1, 0.088_295_217_536, 0.003_446_566_337_7],
        8.056_522_933_8,
        1.158_772_549_9,
    );
}

#[test]
fn readings_that_determine_nothing_are_refused() {
    let twice = Data {
        points: &[(1.0, 2.0), (2.0, 3.0), (4.0, 5.0)],
        curve: |x, b| ((b[0] + b[1]) * x, SVector::from([x, x])),
    };
    assert_eq!(fit(&twice, SVector::from([0.0, 0.0])).unwrap_err(), FitError::Singular(1));
    let nowhere = Data { points: &[(1.0, 2.0)], curve: |_, b| (f64::NAN * b[0], SVector::from([1.0])) };
    assert_eq!(fit(&nowhere, SVector::from([0.0])).unwrap_err(), FitError::NoStart);
}

#[rustfmt::skip]
const NORRIS: &[(f64, f64)] = &[
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3),
    (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5),
    (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8),
    (888.8, 887.6), (119.6, 120.2), (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2),
    (998.5, 999.0), (778.9, 779.0), (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9),
    (0.2, 0.5),
];

#[rustfmt::skip]
const MISRA1A: &[(f64, f64)] = &[
    (10.07, 77.6), (14.73, 114.9), (17.94, 141.1), (23.93, 190.8), (29.61, 239.9), (35.18, 289.0), (40.02, 332.8),
    (44.82, 378.4), (50.76, 434.8), (55.05, 477.3), (61.01, 536.8), (66.40, 593.1), (75.47, 689.1), (81.78, 760.0),
];

#[rustfmt::skip]
const RAT42: &[(f64, f64)] = &[
    (8.93, 9.0), (10.80, 14.0), (18.59, 21.0), (22.33, 28.0), (39.35, 42.0), (56.11, 57.0), (61.73, 63.0),
    (64.62, 70.0), (67.08, 79.0),
];
