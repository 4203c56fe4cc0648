//! Values that are larger than their neighbours: every copy marks what a plain look finds.

use deskside::dsp::lanes::{Isa, mark_tops};

use crate::support::signals::noise;

#[test]
fn every_copy_marks_what_lies_over_its_neighbours() {
    let mut values = noise(1, 0.3, 203);
    // Two that are alike: the second one is the top.
    (values[100], values[101], values[102]) = (0.9, 0.9, 0.1);
    let least = 0.1;
    for isa in Isa::all() {
        let mut marks = vec![9; values.len() - 2];
        mark_tops(isa, &values, least, &mut marks);
        for (three, mark) in values.windows(3).zip(&marks) {
            let is_top = three[1] >= three[0] && three[1] > three[2] && three[1] > least;
            assert_eq!(*mark == 1, is_top, "{isa:?}: {three:?}");
        }
        assert!(marks.contains(&1) && marks.contains(&0), "{isa:?}: some are, some are not");
        assert_eq!([marks[99], marks[100]], [0, 1], "{isa:?}: the last of those that are alike");
    }
}
