//! A ground test in the shield's place: measured dots over computed curves, how far they lie apart, and what a fit says.

use super::dom::{Kit, Made, Memo, add, add_all, clear, put, round, show};
use crate::document::Sorting as _;
use crate::page::model::{Action, Ground as Test, Model};
use crate::report::numbers::{NONE, Quantity, grouped, ticks, with_unit};
use crate::scenario::UnitSystem;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlInputElement};

const LEFT: f64 = 52.0;
const RIGHT: f64 = 640.0;
const TOP: f64 = 10.0;
const FOOT: f64 = 250.0;
/// Most dots of a trace.
const DOTS: usize = 120;

pub struct Ground {
    body: Element,
    seen: Memo<(u64, UnitSystem)>,
}

impl Ground {
    pub fn new(kit: &Kit) -> Made<Self> {
        let body = kit.by_id("ground")?;
        put(&body, &[("tabindex", "0")])?;
        let own = kit.clone();
        kit.on(&body, "change", move |event| {
            let changed = event.target().and_then(|target| target.dyn_into::<HtmlInputElement>().ok());
            let name = changed.as_ref().and_then(|field| field.get_attribute("data-fit"));
            let (Some(field), Some(name), Some(model)) = (changed, name, own.model()) else { return };
            let mut names = model.ground.as_ref().map(|test| test.fitted.clone()).unwrap_or_default();
            names.retain(|known| *known != name);
            if field.checked() {
                names.push(name);
            }
            own.send(Action::Fit(names));
        });
        Ok(Self { body, seen: Memo::default() })
    }

    pub fn render(&mut self, kit: &Kit, model: &Model) -> Made<()> {
        let turn = model.ground.as_ref().map_or(0, |test| test.turn);
        if !self.seen.changed((turn, model.units)) {
            return Ok(());
        }
        let focused = kit.document.active_element().and_then(|element| element.get_attribute("data-fit"));
        clear(&self.body);
        let Some(test) = &model.ground else {
            let words = "A coupon under a prescribed exposure: drop its CASE.json (tileglow-coupon/1) here, with TRACES.csv of its thermocouples \
                         beside it or after it.";
            let open = kit.said("button", "btn", "Files…")?;
            put(&open, &[("type", "button"), ("data-act", "open-files")])?;
            return add_all(&self.body, &[&kit.said("p", "", words)?, &open]);
        };
        let case = &test.outcome.case;
        let title = if case.name.is_empty() { test.file.as_str() } else { case.name.as_str() };
        let heading = kit.said("h2", "", title)?;
        let error = Quantity::Difference.shown(test.outcome.solution.numerical_error_k, model.units);
        let stated = with_unit(&format!("{:.2}", (error * 100.0).ceil() / 100.0), Quantity::Difference.unit(model.units));
        let note = format!("Computed as curves, measured as dots. Stated error ≤ {stated}; energy closes to {:.1e}.", {
            test.outcome.solution.energy.imbalance_fraction()
        });
        add_all(&self.body, &[&heading, &kit.said("p", "note", &note)?])?;
        self.plot(kit, model, test)?;
        self.differences(kit, model, test)?;
        self.fit(kit, test)?;
        if !test.outcome.warnings.is_empty() {
            let list = kit.html("ul", "warned")?;
            for warning in &test.outcome.warnings {
                add(&list, &kit.said("li", "", warning)?)?;
            }
            add(&self.body, &list)?;
        }
        let acts = kit.html("div", "sizes")?;
        let button = |label: &str, act: &str, can: bool| -> Made {
            let button = kit.said("button", "btn", label)?;
            put(&button, &[("type", "button"), ("data-act", act)])?;
            show(&button, can);
            Ok(button)
        };
        let property = |name: &str| name.ends_with(".conductivity") || name.ends_with(".specific_heat");
        let material = test.outcome.fit.as_ref().is_some_and(|fit| fit.scales.iter().any(|scale| property(&scale.name)));
        add_all(
            &acts,
            &[
                &button("Take the fitted material over", "take-ground", material)?,
                &button("Save materials.json", "save-fitted", material)?,
                &button("Save result.json", "save-ground", true)?,
                &button("Another test…", "open-files", true)?,
            ],
        )?;
        add(&self.body, &acts)?;
        if let Some(name) = focused
            && let Ok(Some(field)) = self.body.query_selector(&format!("[data-fit='{}']", name.replace('\'', "")))
            && let Ok(field) = field.dyn_into::<web_sys::HtmlElement>()
        {
            let _ = field.focus();
        }
        Ok(())
    }

    fn plot(&self, kit: &Kit, model: &Model, test: &Test) -> Made<()> {
        let units = model.units;
        let case = &test.outcome.case;
        let label = format!("Temperatures of {} probes over {}", case.probes.len(), Quantity::Time.text(case.duration_s, units));
        let svg = kit.svg("svg", &[("class", "thr wide"), ("viewBox", "0 0 760 284"), ("role", "img"), ("aria-label", &label)])?;
        let measured = test.outcome.traces.iter().flat_map(|traces| traces.traces.iter().flat_map(|trace| trace.values_k.iter()));
        let (low, high) = (test.curves_k.iter().flatten().chain(measured).copied())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high): (f64, f64), value| (low.min(value), high.max(value)));
        let high = high.max(low + 1.0);
        let x = |time_s: f64| LEFT + (RIGHT - LEFT) * time_s / case.duration_s.max(1e-9);
        let y = |kelvin: f64| FOOT - (FOOT - TOP) * (kelvin - low) / (high - low);
        let kind = Quantity::Temperature;
        for value in ticks(kind.shown(low, units), kind.shown(high, units), 6) {
            let at = y(kind.si(value, units));
            if (TOP - 1.0..=FOOT + 1.0).contains(&at) {
                add(&svg, &kit.path("gr", &format!("M{LEFT} {}H{RIGHT}", round(at)))?)?;
                add(&svg, &kit.label("en q", LEFT - 5.0, at + 3.5, &grouped(value, 0))?)?;
            }
        }
        for value in ticks(0.0, case.duration_s, 7) {
            add(&svg, &kit.label("q", x(value), FOOT + 15.0, &grouped(value, 0))?)?;
        }
        add(&svg, &kit.label("en q", RIGHT, FOOT + 30.0, &format!("{} over {}", kind.unit(units), Quantity::Time.unit(units)))?)?;
        let mut names: Vec<(f64, &str)> = Vec::new();
        for (probe, values) in case.probes.iter().zip(&test.curves_k) {
            let points: Vec<String> =
                test.times_s.iter().zip(values).map(|(time, value)| format!("{} {}", round(x(*time)), round(y(*value)))).collect();
            add(&svg, &kit.path("fa", &format!("M{}", points.join("L")))?)?;
            names.push((y(values.last().copied().unwrap_or(low)), &probe.name));
        }
        for trace in test.outcome.traces.iter().flat_map(|traces| traces.traces.iter().map(move |trace| (traces, trace))) {
            let (traces, trace) = trace;
            let step = traces.times_s.len().div_ceil(DOTS).max(1);
            for (time, value) in traces.times_s.iter().zip(&trace.values_k).step_by(step) {
                let (cx, cy) = (round(x(*time)), round(y(*value)));
                add(&svg, &kit.svg("circle", &[("class", "dot"), ("r", "2"), ("cx", &cx), ("cy", &cy)])?)?;
            }
        }
        // Names at the curves' ends, moved apart where they would meet.
        names.order_by(|a, b| a.0.total_cmp(&b.0));
        let mut last = f64::NEG_INFINITY;
        for (at, name) in names {
            let at = at.max(last + 12.0);
            last = at;
            add(&svg, &kit.label("st on", RIGHT + 6.0, at + 3.5, name)?)?;
        }
        add(&self.body, &svg)
    }

    fn differences(&self, kit: &Kit, model: &Model, test: &Test) -> Made<()> {
        let units = model.units;
        let table = kit.html("table", "tiles")?;
        let (head, row, body) = (kit.html("thead", "")?, kit.html("tr", "")?, kit.html("tbody", "")?);
        let measured = !test.outcome.comparison.is_empty();
        let labels: &[&str] = match measured {
            true => &["probe", "depth", "peak", "at", "mean difference", "root mean square", "largest", "of the peaks"],
            false => &["probe", "depth", "peak", "at"],
        };
        for (place, label) in labels.iter().enumerate() {
            let cell = kit.said("th", if place > 0 { "r" } else { "" }, label)?;
            cell.set_attribute("scope", "col")?;
            add(&row, &cell)?;
        }
        add(&head, &row)?;
        for (index, (probe, peak)) in test.outcome.case.probes.iter().zip(&test.outcome.solution.probe_peaks).enumerate() {
            let row = kit.html("tr", "")?;
            let name = kit.said("th", "", &probe.name)?;
            name.set_attribute("scope", "row")?;
            add(&row, &name)?;
            let mut cells = vec![
                Quantity::Thickness.text(probe.depth_m, units),
                Quantity::Temperature.text(peak.temperature_k, units),
                Quantity::Time.text(peak.time_s, units),
            ];
            if measured {
                let found = test.outcome.comparison.iter().find(|difference| difference.probe == index);
                // Tenths: what a fit is judged by lies below a kelvin.
                let tenths = |kelvin: f64| {
                    let shown = Quantity::Difference.shown(kelvin, units);
                    let sign = if shown < 0.0 { "\u{2212}" } else { "" };
                    with_unit(&format!("{sign}{}", grouped(shown.abs(), 1)), Quantity::Difference.unit(units))
                };
                cells.extend(match found {
                    Some(d) => [d.bias_k, d.rms_k, d.max_k, d.peak_difference_k].map(tenths),
                    None => [NONE; 4].map(str::to_string),
                });
            }
            for cell in cells {
                add(&row, &kit.said("td", "r", &cell)?)?;
            }
            add(&body, &row)?;
        }
        add_all(&table, &[&head, &body])?;
        add(&self.body, &table)
    }

    fn fit(&self, kit: &Kit, test: &Test) -> Made<()> {
        if test.names.is_empty() {
            return add(&self.body, &kit.said("p", "note", "Drop TRACES.csv of this test to compare and to fit.")?);
        }
        let set = kit.html("fieldset", "fits")?;
        add(&set, &kit.said("legend", "", "What must move so that the traces are met")?)?;
        for name in &test.names {
            let label = kit.html("label", "only")?;
            let check = kit.html("input", "")?;
            put(&check, &[("type", "checkbox"), ("data-fit", name)])?;
            if test.fitted.contains(name) {
                check.set_attribute("checked", "")?;
            }
            let words = name.replace('.', ": ").replace('_', " ");
            let scale = test.outcome.fit.as_ref().and_then(|fit| fit.scales.iter().find(|scale| scale.name == *name));
            let found = scale.map_or(String::new(), |s| format!("{:.3} × (95 % within {:.3} to {:.3})", s.scale, s.low, s.high));
            add_all(&label, &[&check, &kit.said("span", "", &words)?, &kit.said("b", "", &found)?])?;
            add(&set, &label)?;
        }
        add(&self.body, &set)
    }
}
