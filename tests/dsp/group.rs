//! Tests of `dsp::Group`.

use deskside::dsp::Group;

#[test]
fn a_group_knows_its_size_and_rate() {
    let (left, right) = ([0.1, 0.2, 0.3], [0.4, 0.5, 0.6]);
    let planes: [&[f32]; 2] = [&left, &right];
    let group = Group::new(&planes, 44_100);
    assert_eq!((group.n_channels(), group.len(), group.rate_hz()), (2, 3, 44_100), "as given");
    assert!(!group.is_empty(), "there are samples");
}

#[test]
#[should_panic(expected = "equally long")]
fn a_group_rejects_planes_of_different_length() {
    let _ = Group::new(&[&[0.0, 0.0], &[0.0]], 48_000);
}
