//! How a towed line runs, against closed forms, a published example and independent solutions.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use leadsman::tackle::line::{GRAVITY, Load, Piece, Shape, Stretch, Unsolved, root, shape};

fn close(what: &str, got: f64, wanted: f64, relative: f64) {
    assert!(
        (got - wanted).abs() <= relative * wanted.abs() + 1e-12,
        "{what}: {got}, wanted {wanted} within {relative}"
    );
}

/// A line with a weight of so many newtons at its end, which drags so many newtons at that speed.
struct Case {
    weight: f64,
    drag: f64,
    line: Stretch,
    speed: f64,
    length: f64,
    density: f64,
}

impl Case {
    fn run(&self) -> Shape {
        let pressure = 0.5 * self.density * self.speed * self.speed;
        let drag_area = if self.drag == 0.0 { 0.0 } else { self.drag / pressure };
        let load = Load { weight: self.weight, drag_area };
        shape(&[Piece::Load(load), Piece::Line(self.line, self.length)], self.speed, self.density).unwrap()
    }
}

const NO_LINE: Stretch = Stretch { weight: 0.0, diameter: 0.0, across: 0.0, along: 0.0 };

/// Closed forms: a line without weight (T constant), a catenary, no speed. Tolerance 0.001 %.
#[test]
fn closed_forms() {
    let weightless = Stretch { diameter: 0.0014, across: 1.2, ..NO_LINE };
    let case = Case { weight: 40.0, drag: 0.0, line: weightless, speed: 1.0, length: 30.0, density: 1000.0 };
    close("weightless, 1 m/s, depth", case.run().depth, 28.30376, 1e-5);
    close("weightless, 1 m/s, behind", case.run().behind, 8.66215, 1e-5);
    let case = Case { weight: 40.0, drag: 3.0, line: weightless, speed: 1.5, length: 40.0, density: 1000.0 };
    close("weightless, 1.5 m/s, depth", case.run().depth, 28.66312, 1e-5);
    close("weightless, 1.5 m/s, behind", case.run().behind, 25.41072, 1e-5);
    let heavy = Stretch { weight: 0.07, ..NO_LINE };
    let case = Case { weight: 5.0, drag: 8.0, line: heavy, speed: 1.0, length: 30.0, density: 1000.0 };
    close("catenary, depth", case.run().depth, 18.03257, 1e-5);
    close("catenary, behind", case.run().behind, 23.93179, 1e-5);
    let wire = Stretch { weight: 0.065, diameter: 0.0014, ..NO_LINE };
    let case = Case { weight: 40.0, drag: 0.0, line: wire, speed: 0.0, length: 25.0, density: 1000.0 };
    close("no speed, depth", case.run().depth, 25.0, 1e-5);
    close("no speed, tension", case.run().tension, 40.0 + 0.065 * 25.0, 1e-9);
    assert!(case.run().behind.abs() < 1e-9);
}

/// Without load along the line the tension differs by the weight over the depth, exactly, whatever the speed.
#[test]
fn without_load_along_it_tension_grows_with_depth_alone() {
    let wire = Stretch { weight: 0.065, diameter: 0.0014, across: 1.2, along: 0.0 };
    for speed in [0.3, 0.9, 1.7] {
        let case = Case { weight: 40.0, drag: 2.0, line: wire, speed, length: 60.0, density: 1000.0 };
        let run = case.run();
        close("tension", run.tension, libm::hypot(40.0, 2.0) + 0.065 * run.depth, 1e-7);
    }
}

/// The angle at which a line with nothing at its end runs. Closed form; tolerance 0.001°.
#[test]
fn critical_angles() {
    let cases = [
        (0.065, 0.0014, 1.2, 1.0, 1000.0, 15.83369),
        (0.5, 0.006, 1.2, 2.0, 1000.0, 10.64531),
        (8.89, 0.0173, 1.5, 2.57, 1025.0, 18.07028),
    ];
    for (weight, diameter, across, speed, density, degrees) in cases {
        let line = Stretch { weight, diameter, across, along: 0.02 };
        let run = shape(&[Piece::Line(line, 50.0)], speed, density).unwrap();
        assert!((run.angle.to_degrees() - degrees).abs() < 0.001, "{} for {degrees}", run.angle.to_degrees());
        close("depth of a straight line", run.depth, 50.0 * libm::sin(run.angle), 1e-12);
    }
}

/// A published example: WHOI-97-15 (Gobat, Grosenbaugh and Triantafyllou 1997), appendix E, a towed sled; its figure
/// shows about 400 m of depth and 895 m behind, read to 5 and 6 m. The own solution of the values' collector, by scipy's
/// DOP853, is 400.1 m, 894.7 m, 18.16° and 11,837 N.
#[test]
fn the_published_towed_sled() {
    let sled = Load {
        // The example counts with 9.81 m/s².
        weight: 1135.0 * 9.81 - 4448.0,
        drag_area: 0.77 * std::f64::consts::PI * 0.736 * 0.736 / 4.0,
    };
    let cable = Stretch { weight: 8.89, diameter: 0.0173, across: 1.5, along: 0.01 };
    let run = shape(&[Piece::Load(sled), Piece::Line(cable, 1000.0)], 2.57, 1025.0).unwrap();
    assert!((run.depth - 400.0).abs() < 5.0 && (run.behind - 895.0).abs() < 6.0, "{run:?}");
    assert!((run.depth - 400.1).abs() < 0.1 && (run.behind - 894.7).abs() < 0.1, "{run:?}");
    assert!((run.angle.to_degrees() - 18.16).abs() < 0.01, "{run:?}");
    close("tension", run.tension, 11_837.0, 1e-4);
}

/// A lead ball on steel wire in fresh water. The wanted values: scipy 1.17.1's DOP853 at a relative tolerance of 1e-11,
/// by the collector of the values; three of them beside the lumped-mass code moordyn 2.7.2 (`T5`, `T7`, `T13`: 26.698 and
/// 12.409, 29.191 and 25.108, 27.423 and 10.962 m, whose wire stretches by a thousandth). Tolerances: depth 0.2 %, behind
/// 0.3 %, tension 0.2 %, angle 0.1°.
#[test]
fn a_ball_on_steel_wire() {
    // ball kg, wire m, weight N/m, across, along, speed, length, weight N, drag N, depth, behind, tension, angle
    let cases: [[f64; 12]; 9] = [
        [0.0014, 0.064862, 1.2, 0.02, 0.8, 5.0, 40.238397, 0.98191, 4.9909, 0.287, 40.575, 84.831],
        [0.0014, 0.064862, 1.2, 0.02, 0.8, 20.0, 40.238397, 0.98191, 19.7152, 3.0348, 41.545, 74.234],
        [0.0014, 0.064862, 1.2, 0.02, 1.2, 15.0, 40.238397, 2.209297, 14.3765, 3.9066, 41.308, 63.769],
        [0.0014, 0.064862, 1.2, 0.02, 1.2, 30.0, 40.238397, 2.209297, 26.654, 12.4397, 42.416, 47.82],
        [0.0014, 0.064862, 1.2, 0.02, 1.5, 40.0, 40.238397, 3.452027, 29.17, 25.0807, 44.028, 29.187],
        [0.0014, 0.064862, 1.2, 0.02, 2.0, 20.0, 40.238397, 6.136936, 14.6926, 12.6007, 43.196, 30.233],
        [0.0014, 0.064862, 1.2, 0.02, 1.0, 25.0, 24.143038, 1.091421, 22.467, 9.8759, 25.83, 49.588],
        [0.0012, 0.047654, 1.2, 0.02, 0.9, 15.0, 32.190718, 1.070952, 14.7573, 2.4464, 32.926, 73.397],
        [0.0014, 0.064862, 1.5, 0.01, 1.0, 30.0, 40.238397, 1.534234, 27.3917, 10.9716, 42.151, 52.04],
    ];
    for [diameter, weight, across, along, speed, length, ball, drag, depth, behind, tension, angle] in cases {
        let line = Stretch { weight, diameter, across, along };
        let run = Case { weight: ball, drag, line, speed, length, density: 1000.0 }.run();
        close("depth", run.depth, depth, 0.002);
        close("behind", run.behind, behind, 0.003);
        close("tension", run.tension, tension, 0.002);
        assert!((run.angle.to_degrees() - angle).abs() < 0.1, "angle {} for {angle}", run.angle.to_degrees());
    }
    let lumped = [
        (1.2, 30.0, 26.698, 12.409, 1.2, 0.02),
        (1.5, 40.0, 29.191, 25.108, 1.2, 0.02),
        (1.0, 30.0, 27.423, 10.962, 1.5, 0.01),
    ];
    for (speed, length, depth, behind, across, along) in lumped {
        let line = Stretch { weight: 0.064862, diameter: 0.0014, across, along };
        let drag = 0.5 * 1000.0 * 0.47 * std::f64::consts::PI * 0.09117 * 0.09117 / 4.0 * speed * speed;
        let run = Case { weight: 40.238397, drag, line, speed, length, density: 1000.0 }.run();
        close("depth by lumped masses", run.depth, depth, 0.003);
        close("behind by lumped masses", run.behind, behind, 0.004);
    }
}

/// A line that sinks by its own weight, with nothing or little at its end. By scipy, as above; 0.2 %.
#[test]
fn a_sinking_line() {
    let cases: [[f64; 9]; 4] = [
        [0.019, 0.0008, 0.7, 30.0, 0.0, 0.0, 8.3562, 28.8127, 0.4996],
        [0.019, 0.0008, 0.9, 30.0, 0.0, 0.0, 6.5513, 29.2759, 0.7061],
        [0.019, 0.0008, 0.9, 30.0, 0.05, 0.1, 6.6955, 29.2356, 0.819],
        [0.024, 0.00085, 1.0, 50.0, 0.1, 0.25, 10.9139, 48.7873, 1.8024],
    ];
    for [weight, diameter, speed, length, end, drag, depth, behind, tension] in cases {
        let line = Stretch { weight, diameter, across: 1.2, along: 0.02 };
        let run = Case { weight: end, drag, line, speed, length, density: 1000.0 }.run();
        close("depth", run.depth, depth, 0.002);
        close("behind", run.behind, behind, 0.002);
        close("tension", run.tension, tension, 0.002);
    }
}

/// Cable out for a depth. By scipy, as above; 0.2 %. Wire of 1.4 mm with a metal fill of 0.62.
#[test]
fn cable_out_for_a_depth() {
    let wire = Stretch { weight: 0.064862, diameter: 0.0014, across: 1.2, along: 0.02 };
    let ball = |mass: f64, across: f64| Load {
        weight: mass * GRAVITY * (1.0 - 1000.0 / 11_340.0),
        drag_area: 0.47 * std::f64::consts::PI * across * across / 4.0,
    };
    let diameter = |mass: f64| libm::cbrt(6.0 * mass / 11_340.0 / std::f64::consts::PI);
    for (mass, speed, depth, wanted) in
        [(2.7, 1.0, 12.0, 12.4559), (4.5, 1.0, 10.0, 10.1172), (4.5, 1.2, 20.0, 21.5154)]
    {
        let load = ball(mass, diameter(mass));
        let deep = |length: f64| {
            Ok::<_, Unsolved>(shape(&[Piece::Load(load), Piece::Line(wire, length)], speed, 1000.0)?.depth)
        };
        let out = root((0.0, 100.0), depth, 1e-4, deep).unwrap().unwrap();
        close("cable out", out, wanted, 0.002);
    }
}

#[test]
fn what_cant_be_worked_out_is_said() {
    let line = Stretch { weight: 0.019, diameter: 0.0008, across: 1.2, along: 0.02 };
    let with = |line: Stretch, length: f64, speed: f64| shape(&[Piece::Line(line, length)], speed, 1000.0).unwrap_err();
    assert_eq!(with(line, 30.0, f64::NAN), Unsolved::OutOfRange("speed"));
    assert_eq!(with(line, 30.0, 8.9), Unsolved::OutOfRange("speed"));
    assert_eq!(with(line, f64::INFINITY, 1.0), Unsolved::OutOfRange("length of line"));
    assert_eq!(with(line, -1.0, 1.0), Unsolved::OutOfRange("length of line"));
    assert_eq!(with(Stretch { diameter: -0.001, ..line }, 3.0, 1.0), Unsolved::OutOfRange("diameter of the line"));
    assert_eq!(with(Stretch { weight: 0.0, ..line }, 3.0, 1.0), Unsolved::NoShape);
}

#[test]
fn a_root_is_found_in_its_bracket_or_there_is_none() {
    let cube = |at: f64| Ok::<_, ()>(at * at * at);
    let found = root((0.0, 10.0), 27.0, 1e-9, cube).unwrap().unwrap();
    assert!((found - 3.0).abs() < 1e-9);
    assert_eq!(root((0.0, 2.0), 27.0, 1e-9, cube), Ok(None));
    assert_eq!(root((0.0, 1.0), 0.0, 1e-9, cube), Ok(Some(0.0)));
    // A step has no place where it is close to a value between.
    assert_eq!(root((0.0, 1.0), 0.5, 1e-9, |at| Ok::<_, ()>(if at < 0.3 { 0.0 } else { 1.0 })), Ok(None));
}

// Rods

mod rods {
    use super::close;
    use leadsman::source::boat::Boat;
    use leadsman::source::yaml::Document;
    use leadsman::tackle::gear::{Rod, turned};
    use leadsman::tackle::spread::{Bounds, Called, GivenUp, spread};
    use proptest::prelude::*;

    const FOOT: f64 = 0.3048;
    const MPH: f64 = 0.44704;

    fn boat() -> Boat {
        Boat::read(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/ossel/boat.yaml")).unwrap()
    }

    fn rod(name: &str) -> Rod {
        boat().rods.into_iter().find(|rod| rod.name == name).unwrap()
    }

    fn refused(text: &str) -> String {
        Boat::of(&Document::parse("b.yaml", format!("name: b\n{text}")).unwrap()).unwrap_err().to_string()
    }

    /// Common practice, no source: each ten yards of weighted line take a lure down about 5 ft at about 2 mph, 40 % more or
    /// less; three colours 15 ft, five 25 ft.
    #[test]
    fn weighted_line_dives_about_as_people_say() {
        let mut lead = rod("port lead");
        lead.height = 0.0;
        // Beside it what the physics give, which the head of `gear` says.
        for (colours, feet, told) in [(3.0, 15.0, 15.7), (5.0, 25.0, 28.1)] {
            let run = lead.forward(colours * 30.0 * FOOT, 2.0 * MPH, None, 999.0).unwrap();
            close("depth", run.depth / FOOT, feet, 0.4);
            assert!((run.depth / FOOT - told).abs() < 0.05, "{}", run.depth / FOOT);
        }
    }

    /// The inverse of the forward solution within a centimetre, over depths and speeds that make sense.
    #[test]
    fn line_out_for_a_depth_gives_that_depth() {
        for rod in boat().rods {
            for tenth in (10..=40).step_by(5) {
                let speed = f64::from(tenth) / 10.0 * MPH;
                for feet in [5.0, 10.0, 20.0, 40.0, 80.0, 120.0] {
                    let Ok(run) = rod.inverse(feet * FOOT, speed, Some(0.08), 999.0).unwrap() else { continue };
                    let back = rod.forward(run.out, speed, Some(0.08), 999.0).unwrap();
                    assert!((back.depth - feet * FOOT).abs() < 0.01, "{} {feet} ft at {tenth}: {back:?}", rod.name);
                    assert!(run.out <= rod.most_out + 0.01);
                }
            }
        }
    }

    #[test]
    fn what_is_not_reached_says_what_would() {
        let flat = rod("starboard flat");
        let too_deep = flat.inverse(30.0 * FOOT, 3.0 * MPH, None, 999.0).unwrap().unwrap_err();
        assert!(too_deep.most < 30.0 * FOOT && too_deep.most > 5.0 * FOOT, "{too_deep:?}");
        let slower = too_deep.slower.unwrap();
        assert!(slower < 3.0 * MPH);
        let reached = flat.inverse(29.8 * FOOT, slower - 0.005, None, 999.0).unwrap();
        assert!(reached.is_ok(), "a little slower than the limit it is reached: {reached:?}");
        assert!(too_deep.heavier.unwrap() > 1.0);
    }

    #[test]
    fn measured_depths_fit_the_drag() {
        // Depths that a drag of 1.8 gives.
        let lead = rod("port lead");
        let true_drag = lead.with_drag(1.8);
        let points: Vec<[f64; 3]> = [(30.0, 0.9), (45.0, 0.9), (60.0, 1.1)]
            .iter()
            .map(|(out, speed)| [*out, *speed, true_drag.forward(*out, *speed, None, 1000.0).unwrap().depth])
            .collect();
        let fitted = lead.clone().fitted(&points, 1000.0).unwrap();
        let fit = fitted.fit.unwrap();
        close("drag", fit.across, 1.8, 0.001);
        for [_, _, measured, before, after] in &fit.points {
            assert!((after - measured).abs() < 0.01 && (before - measured).abs() > 0.1, "{fit:?}");
        }
    }

    /// A lure in a turn. Closed form; the cases of a line that follows along its own circle, within 0.00001.
    #[test]
    fn turns() {
        let cases = [
            (20.0, 0.0, 15.0, Some(0.66144)),
            (25.0, -8.0, 18.0, None),
            (30.0, -5.0, 0.0, Some(0.83333)),
            (30.0, -5.0, 20.0, Some(0.5)),
            (30.0, 5.0, 0.0, Some(1.16667)),
            (50.0, 10.0, 25.0, Some(1.09087)),
            (60.0, 15.0, 40.0, Some(1.05738)),
            (100.0, 20.0, 30.0, Some(1.1619)),
        ];
        for (radius, sideways, behind, wanted) in cases {
            match (turned(radius, sideways, behind).speed, wanted) {
                (Some(got), Some(wanted)) => assert!((got - wanted).abs() < 0.000_01, "{got}, wanted {wanted}"),
                (got, wanted) => assert_eq!(got, wanted, "{radius} {sideways} {behind}"),
            }
        }
    }

    fn bounds(lines: Option<usize>) -> Bounds {
        Bounds { lines, apart: 4.0, density: 999.0 }
    }

    fn called(from: f64, to: f64, mph: f64, lures: &[&str]) -> Called {
        let lures = lures.iter().map(|lure| (*lure).to_owned()).collect();
        Called { depth: (from * FOOT, to * FOOT), speed: mph * MPH, size: None, lures }
    }

    #[test]
    fn a_band_is_covered_evenly_and_the_deepest_runs_nearest_the_boat() {
        let rods = boat().rods;
        let made = spread(&rods, &called(10.0, 40.0, 2.3, &["spoon", "plug"]), &bounds(Some(4))).unwrap();
        assert!(made.given_up.is_empty(), "{:?}", made.given_up);
        let depths: Vec<f64> = made.sets.iter().map(|set| set.run.depth / FOOT).collect();
        for (got, wanted) in depths.iter().zip([13.75, 21.25, 28.75, 36.25]) {
            assert!((got - wanted).abs() < 0.1, "{depths:?}");
        }
        assert_eq!(rods[made.sets[3].rod].line, "downrigger");
        let lures: Vec<&str> = made.sets.iter().filter_map(|set| set.lure.as_deref()).collect();
        assert_eq!(lures.iter().filter(|lure| **lure == "spoon").count(), 2, "{lures:?}");
        // The least cost of all ways to deal these rods out, tried one by one.
        let rods_set: Vec<usize> = made.sets.iter().map(|set| set.rod).collect();
        let mut sorted = rods_set.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted.len(), 4, "each rod once: {rods_set:?}");
    }

    #[test]
    fn the_water_s_limit_and_what_rods_can_carry_hold() {
        let rods = boat().rods;
        let made = spread(&rods, &called(10.0, 40.0, 2.3, &[]), &bounds(Some(2))).unwrap();
        assert_eq!((made.sets.len(), &made.given_up[0]), (2, &GivenUp::TooManyRods(2)));
        let made = spread(&rods, &called(10.0, 40.0, 2.3, &["fly"]), &bounds(None)).unwrap();
        let lead = rods.iter().position(|rod| rod.name == "port lead").unwrap();
        assert!(made.given_up.contains(&GivenUp::NoLure(lead)), "{:?}", made.given_up);
        assert!(made.sets.iter().all(|set| set.rod != lead && set.lure.as_deref() == Some("fly")));
        let too_fast = spread(&rods, &called(60.0, 150.0, 4.0, &[]), &bounds(None)).unwrap();
        assert!(too_fast.given_up.iter().any(|given| matches!(given, GivenUp::Depth(..))));
    }

    #[test]
    fn bad_boats_name_their_field() {
        let rod = "rods:\n  - name: a\n    cable: {preset: steel wire 0.9 mm}\n";
        let cases = [
            (format!("{rod}    weight: {{mass: 0 lb}}\n"), "b.yaml:5:20: `0 lb` is no mass that can be"),
            (format!("{rod}    weight: {{mass: -3 lb}}\n"), "b.yaml:5:20: `-3 lb` is no mass"),
            (format!("{rod}    weight: {{mass: 10 lb, density: 900 kg/m3}}\n"), "b.yaml:5:36: a weight that is no denser"),
            (format!("{rod}    weight: {{mass: 10 lb, diameter: -1 in}}\n"), "b.yaml:5:37: `-1 in` is outside"),
            (format!("{rod}    weight: {{mass: 1 kg, volume: 2 L}}\n"), "b.yaml:5:34: a weight that is no denser"),
            (format!("{rod}    weight: {{mass: 1 kg, volume: 2 L, density: 8000 kg/m3}}\n"), "b.yaml:5:34: a weight has its density or its volume"),
            (rod.to_owned(), "b.yaml:3:5: a weight needs its cable and a cable its weight"),
            ("rods:\n  - name: a\n    line: {preset: lead cor}\n".to_owned(), "b.yaml:4:20: no line is known as `lead cor`\n  help: did you mean `lead core`?"),
            ("rods:\n  - name: a\n    line: {diameter: 0.4 mm}\n".to_owned(), "b.yaml:4:11: a line needs its `preset`"),
            ("rods:\n  - name: a\n    line: {diameter: 1 mm, material: rope}\n".to_owned(), "b.yaml:4:38: no line is made of `rope` here"),
            ("rods:\n  - name: a\n".to_owned(), "b.yaml:3:5: this rod has no line"),
            ("rods:\n  - name: a\n    side: left\n    line: {preset: lead core}\n".to_owned(), "b.yaml:4:11: `left` is no side of a boat"),
            ("rods:\n  - name: a\n    line: {preset: lead core}\n  - name: a\n    line: {preset: lead core}\n".to_owned(), "b.yaml:5:11: two rods are called `a`"),
            ("rods:\n  - name: a\n    line: {preset: lead core}\n    measured: [{out: 100 ft, speed: 20 mph, depth: 20 ft}]\n".to_owned(), "b.yaml:5:37: `20 mph` is outside"),
        ];
        for (text, message) in cases {
            let fault = refused(&text);
            assert!(fault.starts_with(message), "{text}\n{fault}");
        }
    }

    fn rig(arguments: &[&str]) -> (bool, String) {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_leadsman"))
            .arg("rig")
            .args(arguments)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        (
            output.status.success(),
            String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr),
        )
    }

    #[test]
    fn the_screens_of_the_scenario_s_boat() {
        let folder = tempfile::tempdir().unwrap();
        let svg = folder.path().join("spread.svg").to_string_lossy().into_owned();
        let boat = ["--boat", "rules/ossel/boat.yaml"];
        let said = [&boat[..], &["--depth", "10 to 40 ft", "--speed", "2 to 2.6 mph", "--svg", &svg]].concat();
        let called = [
            &["rules/under_the_warm_lid.strategy"],
            &boat[..],
            &["--water", "rules/ossel/water.yaml", "--readings", "rules/ossel/july_dawn.yaml"],
        ]
        .concat();
        insta::with_settings!({ snapshot_path => "snapshots/tackle", prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!("rig_said", rig(&said).1);
            insta::assert_snapshot!("rig_called", rig(&called).1);
            insta::assert_snapshot!("spread.svg", std::fs::read_to_string(&svg).unwrap());
        });
    }

    #[test]
    fn what_cant_be_set_is_told() {
        let boat = ["--boat", "rules/ossel/boat.yaml"];
        let at = ["--at", "2026-05-14T12:00-07:00"];
        let cases: [(&[&str], &str); 7] = [
            (&["--depth", "20 ft", "--speed", "2 mph"], "rods are set for a boat"),
            (
                &[&boat[..], &["--depth", "20 ft", "--speed", "20 mph"]].concat(),
                "`20 mph` is outside what is physically plausible for `speed`",
            ),
            (&[&boat[..], &["--depth", "40 to 20 ft", "--speed", "2 mph"]].concat(), "`40 to 20 ft` runs backwards"),
            (&[&boat[..], &["--depth", "20 ft"]].concat(), "say what is to be set"),
            (
                &[&boat[..], &at, &["--depth", "20 to 90 ft", "--speed", "2 mph", "--set", "bottom=60 ft"]].concat(),
                "90 ft is below the bottom, at 60 ft",
            ),
            (
                &[
                    &boat[..],
                    &["rules/less_to_chase.strategy"],
                    &at,
                    &["--set", "surface=70 °F", "--set", "releasing=yes"],
                ]
                .concat(),
                "there is no depth to set rods to",
            ),
            (&["--boat", "tests/tackle/no_rods.yaml", "--depth", "20 ft", "--speed", "2 mph"], "this boat has no rods"),
        ];
        for (arguments, message) in cases {
            let (fine, said) = rig(arguments);
            assert!(!fine && said.contains(message), "{arguments:?}: {said}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        /// More speed never runs deeper, and a little more speed moves the lure a little.
        #[test]
        fn faster_is_shallower(number in 0usize..4, out in 5.0..60.0f64, mph in 1.0..4.0f64) {
            let rod = boat().rods[number].clone();
            let run = rod.forward(out, mph * MPH, None, 999.0).unwrap();
            let faster = rod.forward(out, (mph + 0.01) * MPH, None, 999.0).unwrap();
            prop_assert!(run.depth.is_finite() && run.behind >= 0.0 && run.depth >= 0.0);
            prop_assert!(faster.depth <= run.depth + 0.01, "{run:?} {faster:?}");
            prop_assert!((faster.depth - run.depth).abs() < 0.5);
        }

        /// More line never runs shallower, nor does more weight.
        #[test]
        fn more_line_and_weight_are_deeper(mass in 2.0..12.0f64, out in 5.0..60.0f64, mph in 1.0..4.0f64) {
            let with = |mass: f64| {
                let text = format!("name: b\nrods:\n  - name: a\n    cable: {{preset: steel wire 0.9 mm}}\n    weight: {{mass: {mass:.3} lb}}\n");
                Boat::of(&Document::parse("b", text).unwrap()).unwrap().rods[0].clone()
            };
            let depth = |mass: f64, out: f64| with(mass).forward(out, mph * MPH, None, 999.0).unwrap().depth;
            prop_assert!(depth(mass + 1.0, out) >= depth(mass, out) - 0.01);
            prop_assert!(depth(mass, out + 1.0) >= depth(mass, out) - 0.01);
        }
    }
}
