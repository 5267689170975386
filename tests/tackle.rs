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
