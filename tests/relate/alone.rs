//! What a frame says of one channel's gain.
//!
//! Source: the conditional distribution of a joint normal one; for two channels by hand with the Schur complement.

use deskside::relate::alone::{Habit, alone};
use deskside::relate::ride::Equations;

#[test]
fn two_channels_say_what_the_schur_complement_says() {
    let (own, shared, other) = (40.0f32, 30.0f32, 50.0f32);
    // The mix holds the first at 0.2 and the second at 1.
    let with_main = vec![own * 0.2 + shared, shared * 0.2 + other];
    let equations = Equations::new(2, vec![own, shared, shared, other], with_main);
    for swing in [0.05, 0.5, 5.0] {
        let habits = vec![vec![Habit { gain: 1.0, swing }]; 2];
        let said = alone(&equations, &habits, 1.0)[0][0];
        let (own, shared, other) = (f64::from(own), f64::from(shared), f64::from(other));
        let expected = own - shared * shared / (other + swing.powi(-2));
        assert!((said.firmness - expected).abs() < 1e-4 * expected, "{said:?}, {expected}");
        // The second does what it usually does: what is said of the first is its gain.
        assert!((said.firm_gain / said.firmness - 0.2).abs() < 1e-4, "{said:?}");
    }
}

#[test]
fn twice_the_noise_makes_what_is_said_half_as_firm_and_silence_says_nothing() {
    let equations = Equations::new(2, vec![40.0, 0.0, 0.0, 0.0], vec![20.0, 0.0]);
    let habits = vec![vec![Habit { gain: 1.0, swing: 0.25 }]; 2];
    let (once, twice) = (alone(&equations, &habits, 1.0), alone(&equations, &habits, 2.0));
    assert!((once[0][0].firmness - 40.0).abs() < 1e-6, "{:?}", once[0]);
    assert!((twice[0][0].firmness - 20.0).abs() < 1e-6, "{:?}", twice[0]);
    assert!((once[0][0].firm_gain - 20.0).abs() < 1e-6, "{:?}", once[0]);
    assert!(once[1][0].firmness.abs() < 1e-6, "{:?}", once[1]);
}

#[test]
fn what_two_hear_alike_is_settled_by_what_the_other_usually_does() {
    // Both hear one thing: only the sum of their gains is told.
    let equations = Equations::new(2, vec![90.0; 4], vec![90.0; 2]);
    let said = |gain: f64, swing: f64| {
        let habits = vec![vec![Habit { gain, swing }]; 2];
        alone(&equations, &habits, 1.0)[0][0]
    };
    let usual = said(1.0, 0.1);
    assert!((usual.firm_gain / usual.firmness).abs() < 1e-6, "the other was it: {usual:?}");
    let closed = said(0.0, 0.1);
    assert!((closed.firm_gain / closed.firmness - 1.0).abs() < 1e-6, "it was this: {closed:?}");
    // Of another that may do anything the sum says nothing.
    assert!(said(1.0, 10.0).firmness < 0.02 * usual.firmness);
}
