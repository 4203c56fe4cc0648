//! # Many rules at once
//!
//! Of twenty rules without any change, one looks like a trend by chance. So each probability is held to what all of them
//! together allow.
//!
//! - **Formula:** with `m` probabilities in rising order, the `k`-th becomes `max over i ≤ k of (m - i + 1) p_i`, at most 1
//! - **Unit:** none, 0 to 1
//! - **Source:** Holm, Scandinavian Journal of Statistics 6 (1979)

/// The probabilities, each as large as it has to be for all of them to be judged together, in the same order.
pub fn adjusted(probabilities: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|a, b| probabilities[*a].total_cmp(&probabilities[*b]));
    let mut adjusted = vec![1.0; probabilities.len()];
    let mut so_far: f64 = 0.0;
    for (rank, idx) in order.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "rules are few")]
        let n_left = (probabilities.len() - rank) as f64;
        so_far = so_far.max(n_left * probabilities[*idx]).min(1.0);
        adjusted[*idx] = so_far;
    }
    adjusted
}
