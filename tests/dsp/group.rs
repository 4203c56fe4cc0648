//! A group refuses what no meter could measure.

use deskside::dsp::Group;

#[test]
fn a_group_lends_its_planes() {
    let (left, right) = ([0.5f32, -0.5], [0.25f32, 0.0]);
    let planes: [&[f32]; 2] = [&left, &right];
    let group = Group::new(&planes, 48_000);
    assert_eq!((group.n_channels(), group.len(), group.rate_hz()), (2, 2, 48_000));
    assert_eq!(group.planes()[1], right);
    assert!(!group.is_empty());
    assert!(Group::new(&[&[]], 44_100).is_empty());
}

#[test]
#[should_panic(expected = "a group holds 1 to 8 channels, found 9")]
fn nine_channels_are_too_many() {
    Group::new(&[&[0.0f32] as &[f32]; 9], 48_000);
}

#[test]
#[should_panic(expected = "a group holds 1 to 8 channels, found 0")]
fn no_channel_is_too_few() {
    Group::new(&[], 48_000);
}

#[test]
#[should_panic(expected = "equally long")]
fn planes_of_unequal_length_are_refused() {
    Group::new(&[&[0.0, 0.0], &[0.0]], 48_000);
}

#[test]
#[should_panic(expected = "above 0")]
fn a_rate_of_zero_is_refused() {
    Group::new(&[&[0.0]], 0);
}
