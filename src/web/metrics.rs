use std::fmt::Write;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Seconds at which the times of work are parted.
const STEPS_MS: [u64; 7] = [10, 30, 100, 300, 1_000, 3_000, 10_000];

/// Counters of what was done since the server began.
#[derive(Debug, Default)]
pub struct Metrics {
    /// By hundred of the status: 1xx to 5xx.
    answers: [AtomicU64; 5],
    in_flight: AtomicU64,
    refused_busy: AtomicU64,
    works: AtomicU64,
    work_micros: AtomicU64,
    /// Works done within each step, not summed up.
    within: [AtomicU64; STEPS_MS.len()],
    batch_lines: AtomicU64,
    batch_in_flight: AtomicU64,
    batch_most_in_flight: AtomicU64,
    places_put: AtomicU64,
    workspace_changes: AtomicU64,
    hung_up: AtomicU64,
}

/// Counts something as under way until it is dropped.
pub struct UnderWay<'a>(&'a AtomicU64);

impl Drop for UnderWay<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

fn add(counter: &AtomicU64) {
    counter.fetch_add(1, Ordering::Relaxed);
}

impl Metrics {
    pub fn begin(&self) -> UnderWay<'_> {
        add(&self.in_flight);
        UnderWay(&self.in_flight)
    }

    pub fn answered(&self, status: u16) {
        let class = usize::from(status / 100).clamp(1, 5) - 1;
        add(&self.answers[class]);
        if status == 503 {
            add(&self.refused_busy);
        }
    }

    pub fn worked(&self, took: Duration) {
        add(&self.works);
        self.work_micros.fetch_add(took.as_micros() as u64, Ordering::Relaxed);
        let step = STEPS_MS.iter().position(|ms| took <= Duration::from_millis(*ms));
        if let Some(step) = step {
            add(&self.within[step]);
        }
    }

    pub fn begin_batch_line(&self) -> UnderWay<'_> {
        add(&self.batch_lines);
        let now = self.batch_in_flight.fetch_add(1, Ordering::Relaxed) + 1;
        self.batch_most_in_flight.fetch_max(now, Ordering::Relaxed);
        UnderWay(&self.batch_in_flight)
    }

    pub fn place_put(&self) {
        add(&self.places_put);
    }

    pub fn hung_up(&self) {
        add(&self.hung_up);
    }

    pub fn workspace_changed(&self) {
        add(&self.workspace_changes);
    }

    /// The plain text exposition format.
    pub fn text(&self) -> String {
        let mut text = String::new();
        let get = |counter: &AtomicU64| counter.load(Ordering::Relaxed);
        let mut one = |name: &str, kind: &str, help: &str, values: &[(String, f64)]| {
            // Writing into a string can't fail.
            let _ = writeln!(text, "# HELP {name} {help}\n# TYPE {name} {kind}");
            for (labels, value) in values {
                let _ = writeln!(text, "{name}{labels} {value}");
            }
        };
        let plain = |value: u64| vec![(String::new(), value as f64)];
        let classes: Vec<(String, f64)> = self
            .answers
            .iter()
            .enumerate()
            .map(|(i, n)| (format!("{{status=\"{}xx\"}}", i + 1), get(n) as f64))
            .collect();
        one("oddments_answers_total", "counter", "Requests answered, by status.", &classes);
        let busy = plain(get(&self.refused_busy));
        one("oddments_busy_total", "counter", "Visitors asked to come again.", &busy);
        let under_way = plain(get(&self.in_flight));
        one("oddments_requests_in_flight", "gauge", "Requests being answered.", &under_way);
        let lines = plain(get(&self.batch_lines));
        one("oddments_batch_lines_total", "counter", "Lines of batches taken on.", &lines);
        let most = plain(get(&self.batch_most_in_flight));
        one("oddments_batch_in_flight_max", "gauge", "The most lines worked on at once.", &most);
        let put = plain(get(&self.places_put));
        one("oddments_places_put_total", "counter", "Places at the machine moved.", &put);
        let changes = plain(get(&self.workspace_changes));
        let help = "Changes made to the workspace.";
        one("oddments_workspace_changes_total", "counter", help, &changes);
        let hung_up = plain(get(&self.hung_up));
        let help = "Connections ended to make room for others.";
        one("oddments_hung_up_total", "counter", help, &hung_up);
        let mut sum = 0;
        let mut buckets: Vec<(String, f64)> = Vec::new();
        for (ms, within) in STEPS_MS.iter().zip(&self.within) {
            sum += get(within);
            buckets.push((format!("_bucket{{le=\"{}\"}}", *ms as f64 / 1000.0), sum as f64));
        }
        buckets.push(("_bucket{le=\"+Inf\"}".to_owned(), get(&self.works) as f64));
        buckets.push(("_sum".to_owned(), get(&self.work_micros) as f64 / 1e6));
        buckets.push(("_count".to_owned(), get(&self.works) as f64));
        one("oddments_work_seconds", "histogram", "Time to grade and write a run.", &buckets);
        text
    }
}
