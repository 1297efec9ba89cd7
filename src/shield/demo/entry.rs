//! placeholder
pub fn scenario_json() -> String {
    String::new()
}
