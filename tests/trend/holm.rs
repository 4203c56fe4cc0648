//! Many rules at once against a worked example and the definition.

use deskside::trend::holm::adjusted;
use proptest::prelude::*;

#[test]
fn the_worked_example_of_four_hypotheses_comes_out() {
    // The usual classroom example (from memory): 0.01, 0.04, 0.03, 0.005 become 0.03, 0.06, 0.06, 0.02.
    let found = adjusted(&[0.01, 0.04, 0.03, 0.005]);
    for (found, expected) in found.iter().zip([0.03, 0.06, 0.06, 0.02]) {
        assert!((found - expected).abs() < 1e-12, "found {found}, expected {expected}");
    }
    assert!(adjusted(&[]).is_empty());
}

proptest! {
    #[test]
    fn it_lies_between_one_rule_alone_and_all_rules_alike(p in prop::collection::vec(0.0..1.0_f64, 1..20)) {
        for (adjusted, p_alone) in adjusted(&p).into_iter().zip(&p) {
            // Bonferroni multiplies every probability by their number.
            prop_assert!(adjusted >= *p_alone && adjusted <= (p.len() as f64 * p_alone).min(1.0));
        }
    }
}
