//! An invented instrumented flight: 30 thermocouples just under the coating on the third flight, a reading every 25 s.
//!
//! assets/demo_flight.csv holds a tile and its readings a line, written by `tests/flown.rs` from the model itself and a disturbance that
//! stands there: 8 % more heat on the belly, 6 % less on the lee side, a turn to turbulent flow on the aft belly, a scatter of 2 K.

use crate::document::csv;

const PACKED: &str = include_str!("../../../assets/demo_flight.csv");
const STEP_S: usize = 25;

/// flight_data.csv.
pub fn flight_data_csv() -> String {
    let header = ["flight", "tile", "sensor", "depth_mm", "time_s", "temperature_k"];
    let rows = PACKED.lines().enumerate().flat_map(|(i, line)| {
        let mut cells = line.split(',');
        let tile = cells.next().unwrap_or_default().to_string();
        let sensor = format!("T{:02}", i + 1);
        cells.enumerate().map(move |(row, value)| {
            vec!["3".to_string(), tile.clone(), sensor.clone(), "0.4".to_string(), (row * STEP_S).to_string(), value.to_string()]
        })
    });
    csv::write(&header, rows, &[false, true, true, false, false, false])
}
