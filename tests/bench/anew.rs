//! Stages that nobody has seen: those of the corpus drawn anew by a number.
//!
//! Takes the text of a scene, gives that of another: other performances, a floor that is longer or shorter and wider or narrower, walls
//! that reflect more or less. Names, roles, levels and songs stay.

use toml::Value;

use crate::signals::Rng;

/// A floor is stretched by factors between these.
const STRETCH: [f64; 2] = [0.85, 1.25];

/// Walls reflect this much less or more.
const WALLS: [f64; 2] = [0.8, 1.2];

/// The scene drawn anew.
pub(crate) fn anew(text: &str, number: u64) -> String {
    let mut scene: Value = toml::from_str(text).expect("a scene of the corpus");
    let seed = scene["seed"].as_integer().expect("a seed").unsigned_abs();
    let mut rng = Rng::new(seed.wrapping_add(number));
    let stretch = [between(&mut rng, STRETCH), between(&mut rng, STRETCH)];
    place(&mut scene, stretch);
    let walls = between(&mut rng, WALLS);
    if let Some(share) = scene.get_mut("hall").and_then(|hall| hall.get_mut("wall_reflection")) {
        *share = Value::Float((walls * share.as_float().expect("a share")).min(0.9));
    }
    scene["seed"] = Value::Integer((rng.bits() >> 32) as i64);
    toml::to_string(&scene).expect("a scene")
}

/// Stretches every place on the floor: `at_m` and `towards_m`, anywhere in the scene.
fn place(value: &mut Value, stretch: [f64; 2]) {
    match value {
        Value::Table(table) => {
            for (key, value) in table {
                match value {
                    Value::Array(at) if key == "at_m" || key == "towards_m" => {
                        for (metres, factor) in at.iter_mut().zip(stretch) {
                            *metres = Value::Float(factor * metres.as_float().expect("metres"));
                        }
                    }
                    _ => place(value, stretch),
                }
            }
        }
        Value::Array(values) => values.iter_mut().for_each(|value| place(value, stretch)),
        _ => {}
    }
}

fn between(rng: &mut Rng, [low, high]: [f64; 2]) -> f64 {
    low + (high - low) * rng.even()
}
