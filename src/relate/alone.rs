//! What each frame of a mix says of the gain of one channel by itself, if all others may swing around what they usually do.
//!
//! Takes the equations of the gains and the habits of all channels, gives for each channel and frame a gain and how firmly it is told.
//! Channels that hear the same can trade their parts of a mix against each other: what they usually do settles whose part it was.
//! Never decides whether anything was open.

use rayon::prelude::*;

use super::ride::Equations;

/// What a channel usually does in a frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habit {
    /// Its usual gain; 0 where it is closed.
    pub gain: f64,
    /// How far it swings around that (standard deviation), more than 0.
    pub swing: f64,
}

/// What a frame says of a gain.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Said {
    /// One over the variance of what it says: 0 if it says nothing.
    pub firmness: f64,
    /// Firmness times the gain.
    pub firm_gain: f64,
}

/// What all frames say, for each channel frame by frame. `habits` holds a channel's frames likewise; errors of the equations have a
/// variance of `noise`.
///
/// With `A g = b` the equations divided by the noise, `D` one over the squares of the swings and `u` the usual gains:
/// `P = (A + D)^-1`, `x = P (b + D u)`; firmness `1/P_kk - D_k`, firm gain `x_k/P_kk - D_k u_k`. That is the product of all other
/// channels' normal distributions with the likelihood, their gains integrated out.
pub fn alone(equations: &Equations, habits: &[Vec<Habit>], noise: f64) -> Vec<Vec<Said>> {
    let n = equations.n_channels();
    let frames: Vec<Vec<Said>> = (0..equations.n_frames())
        .into_par_iter()
        .with_min_len(16)
        .map(|frame| {
            let here: Vec<Habit> = habits.iter().map(|habits| habits[frame]).collect();
            of_frame(equations.products(frame), equations.with_main(frame), &here, noise)
        })
        .collect();
    (0..n).map(|k| frames.iter().map(|frame| frame[k]).collect()).collect()
}

fn of_frame(products: &[f32], with_main: &[f32], habits: &[Habit], noise: f64) -> Vec<Said> {
    let n = habits.len();
    let firm: Vec<f64> = habits.iter().map(|habit| habit.swing.powi(-2)).collect();
    let mut root: Vec<f64> = products.iter().map(|&a| f64::from(a) / noise).collect();
    (0..n).for_each(|k| root[k * n + k] += firm[k]);
    factorise(&mut root, n);
    let wanted = |k: usize| f64::from(with_main[k]) / noise + firm[k] * habits[k].gain;
    let (solution, variances) = solved(&root, (0..n).map(wanted).collect());
    let said = |k: usize| {
        let firmness = 1.0 / variances[k] - firm[k];
        if firmness > 0.0 {
            let firm_gain = solution[k] / variances[k] - firm[k] * habits[k].gain;
            Said { firmness, firm_gain }
        } else {
            Said::default()
        }
    };
    (0..n).map(said).collect()
}

/// The lower factor of a positive matrix (Cholesky), in its place.
fn factorise(matrix: &mut [f64], n: usize) {
    for row in 0..n {
        let (above, here) = matrix.split_at_mut(row * n);
        for column in 0..row {
            let other = &above[column * n..];
            let known: f64 = here[..column].iter().zip(other).map(|(a, b)| a * b).sum();
            here[column] = (here[column] - known) / other[column];
        }
        let known: f64 = here[..row].iter().map(|a| a * a).sum();
        here[row] = (here[row] - known).max(f64::MIN_POSITIVE).sqrt();
    }
}

/// The solution of `L L^T x = wanted`, and the diagonal of the inverse of `L L^T`.
fn solved(root: &[f64], wanted: Vec<f64>) -> (Vec<f64>, Vec<f64>) {
    let n = wanted.len();
    let mut half = wanted;
    let mut inverse = vec![0.0f64; n * n];
    // Row by row the inverse of the root; its columns' squares add up to the diagonal.
    for row in 0..n {
        let own = 1.0 / root[row * n + row];
        let (above, here) = inverse.split_at_mut(row * n);
        for (column, factor) in root[row * n..row * n + row].iter().enumerate() {
            let other = &above[column * n..column * n + column + 1];
            here.iter_mut().zip(other).for_each(|(sum, x)| *sum -= factor * own * x);
            half[row] -= factor * half[column];
        }
        here[row] = own;
        half[row] *= own;
    }
    let (mut solution, mut variances) = (vec![0.0; n], vec![0.0; n]);
    for row in 0..n {
        for (k, x) in inverse[row * n..row * n + row + 1].iter().enumerate() {
            solution[k] += x * half[row];
            variances[k] += x * x;
        }
    }
    (solution, variances)
}
