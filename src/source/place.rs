//! Places on the map, as files write them: decimal degrees, north and east positive.

use super::Fault;
use super::yaml::{Node, Written, unknown_key};
use crate::water::Place;

const HELP: &str = "write decimal degrees, north and east positive: `position: {latitude: 46.0, longitude: -116.0}`";

/// A place written as a text: `46.0, -116.0`, latitude first.
pub fn of_text(text: &str) -> Result<Place, Fault> {
    let (latitude, longitude) = text
        .split_once(',')
        .ok_or_else(|| Fault::new(format!("`{text}` is no latitude and longitude with a comma between")).help(HELP))?;
    Ok(Place { latitude: self::latitude(latitude)?, longitude: self::longitude(longitude)? })
}

/// A place in a file: a text, or `latitude` and `longitude` under the key. The path is that of the place.
pub fn of_node(path: &str, node: &Node) -> Result<Place, Fault> {
    match node {
        Node::Text(written) => of_text(&written.text).map_err(|fault| written.place(fault).field(path)),
        Node::Map(entries, _) => of_entries(path, node, entries),
        Node::List(..) => Err(Fault::new("a list is no latitude and longitude").help(HELP).at(node.spot()).field(path)),
    }
}

fn of_entries(path: &str, node: &Node, entries: &[(Written, Node)]) -> Result<Place, Fault> {
    let known = ["latitude", "longitude"];
    if let Some((key, _)) = entries.iter().find(|(key, _)| !known.contains(&key.text.as_str())) {
        return Err(unknown_key(key, Some(path), &known));
    }
    let read = |name: &str, read: fn(&str) -> Result<f64, Fault>| {
        let found = entries.iter().find(|(key, _)| key.text == name).map(|(_, node)| node);
        let field = format!("{path}.{name}");
        match found {
            Some(Node::Text(written)) => read(&written.text).map_err(|fault| written.place(fault).field(field)),
            Some(other) => {
                let fault = Fault::new(format!("`{name}` is {}, not a number of degrees", other.what())).help(HELP);
                Err(fault.at(other.spot()).field(field))
            }
            None => {
                let fault = Fault::new(format!("the position has no `{name}`")).help(HELP);
                Err(fault.at(node.spot()).field(path))
            }
        }
    };
    Ok(Place { latitude: read("latitude", latitude)?, longitude: read("longitude", longitude)? })
}

/// A latitude in decimal degrees, -90 to 90.
pub fn latitude(text: &str) -> Result<f64, Fault> {
    degrees(text, "latitude", 90.0)
}

/// A longitude in decimal degrees, -180 to 180.
pub fn longitude(text: &str) -> Result<f64, Fault> {
    degrees(text, "longitude", 180.0)
}

/// A number that came as a number, as requests have it: finite and in range.
pub fn of_numbers(latitude: f64, longitude: f64) -> Result<Place, Fault> {
    within(latitude, "latitude", 90.0)?;
    within(longitude, "longitude", 180.0)?;
    Ok(Place { latitude, longitude })
}

fn degrees(text: &str, what: &str, most: f64) -> Result<f64, Fault> {
    let text = text.trim().replace('\u{2212}', "-");
    let digits = text.strip_prefix(['-', '+']).unwrap_or(&text);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits =
        |part: &str| !part.is_empty() && part.len() <= 15 && part.bytes().all(|byte| byte.is_ascii_digit());
    let number = if all_digits(whole) && all_digits(part) { text.parse::<f64>().ok() } else { None };
    let number = number.ok_or_else(|| Fault::new(format!("`{text}` is no {what} in decimal degrees")).help(HELP))?;
    within(number, what, most)?;
    Ok(number)
}

fn within(number: f64, what: &str, most: f64) -> Result<(), Fault> {
    if number.is_finite() && number.abs() <= most {
        return Ok(());
    }
    Err(Fault::new(format!("{number} is no {what}: it runs from -{most} to {most} degrees")).help(HELP))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_plain_decimals_in_range() {
        assert_eq!(of_text("46.0, -116.25"), Ok(Place { latitude: 46.0, longitude: -116.25 }));
        assert_eq!(of_text("46,−116"), Ok(Place { latitude: 46.0, longitude: -116.0 }));
        let message = |text: &str| of_text(text).map_err(|fault| fault.message);
        let no = |text: &str| Err(text.to_owned());
        assert_eq!(message("NaN, 3"), no("`NaN` is no latitude in decimal degrees"));
        assert_eq!(message("46, inf"), no("`inf` is no longitude in decimal degrees"));
        assert_eq!(message("4e1, 3"), no("`4e1` is no latitude in decimal degrees"));
        assert_eq!(message("91, 3"), no("91 is no latitude: it runs from -90 to 90 degrees"));
        assert_eq!(message("46"), no("`46` is no latitude and longitude with a comma between"));
        assert!(of_numbers(f64::NAN, 0.0).is_err());
    }
}
