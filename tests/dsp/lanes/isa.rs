//! Tests of `dsp::lanes::Isa`.

use deskside::dsp::lanes::Isa;

#[test]
fn the_plain_copy_is_always_there_and_the_best_is_the_last() {
    let all = Isa::all();
    assert_eq!(all[0], Isa::PLAIN, "the plain copy comes first");
    assert_eq!(all[all.len() - 1], Isa::best(), "the best copy comes last");
}
