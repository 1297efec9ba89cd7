//! Activities with their order, people and areas to a timetable: the longest chain, and the earliest finish that a known method finds.
//!
//! Longest chain and latest starts: critical path method (Kelley and Walker, Proc. Eastern Joint Computer Conf., 1959). Timetable under a
//! limited crew: serial schedule generation (Kelley, in Industrial Scheduling, Prentice-Hall 1963) with the smallest latest finish first
//! (Davis and Patterson, Management Science 21, 1975); both from memory. The method gives a timetable that can be kept, not the shortest
//! one: [`Schedule::bound_min`] says how short any could be. Times are whole minutes, so that comparisons are exact.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// The method in words, for results.
pub const METHOD: &str = "longest chain by the critical path method; timetable by serial schedule generation, smallest latest finish first";

/// One activity. `after` names earlier activities only (lower indices), so that the order can have no circle.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Activity {
    pub duration_min: u64,
    /// People who are busy from start to end; 0 while something cures.
    pub people: u32,
    /// Index of their skill in [`Crew::by_skill`].
    pub skill: usize,
    /// Where it happens.
    pub area: usize,
    /// Keeps everybody else out of its area; others of the same `kind` may share the cleared area.
    pub clears_area: bool,
    /// What sort of work it is.
    pub kind: usize,
    pub after: Vec<usize>,
}

/// Who is there, all the time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crew {
    pub people: u32,
    /// At most so many of a skill; `None` where only the whole crew limits.
    pub by_skill: Vec<Option<u32>>,
}

impl Crew {
    /// The most people that can do one activity of a skill.
    pub fn most(&self, skill: usize) -> u32 {
        let limit = self.by_skill.get(skill).copied().flatten().unwrap_or(self.people);
        limit.min(self.people)
    }
}

/// When each activity starts, in minutes from the first, and what the network says without any limit on people.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Schedule {
    pub start_min: Vec<u64>,
    /// The latest start of each activity that leaves the longest chain as long as it is, people unlimited.
    pub latest_start_min: Vec<u64>,
    /// The activities of one longest chain, first to last.
    pub longest_chain: Vec<usize>,
    pub longest_chain_min: u64,
    /// The end of the last activity.
    pub ready_min: u64,
    /// No timetable with this crew is shorter: the longest chain, or all work shared evenly by the crew or by a limited skill.
    pub bound_min: u64,
}

/// Use of one kind of people over time: the count from each time on.
struct Profile {
    limit: u32,
    used: BTreeMap<u64, u32>,
    /// Before this time nobody is free.
    full_until: u64,
}

impl Profile {
    fn new(limit: u32) -> Profile {
        Profile { limit, used: BTreeMap::from([(0, 0)]), full_until: 0 }
    }

    /// The earliest time from `from` on at which `people` are free for `duration`.
    fn earliest(&self, from: u64, duration: u64, people: u32) -> u64 {
        if people == 0 || duration == 0 {
            return from;
        }
        let mut start = from.max(self.full_until);
        let segment = self.used.range(..=start).next_back().map_or(0, |(time, _)| *time);
        let mut segments = self.used.range(segment..).peekable();
        while let Some((time, used)) = segments.next() {
            if *time >= start.saturating_add(duration) {
                break;
            }
            if used + people > self.limit {
                // Busy until the next change; the last segment is always free.
                start = segments.peek().map_or(*time, |(next, _)| **next);
            }
        }
        start
    }

    fn take(&mut self, start: u64, duration: u64, people: u32) {
        if people == 0 || duration == 0 {
            return;
        }
        for time in [start, start + duration] {
            let before = self.used.range(..=time).next_back().map_or(0, |(_, used)| *used);
            self.used.entry(time).or_insert(before);
        }
        for (_, used) in self.used.range_mut(start..start + duration) {
            *used += people;
        }
        if start <= self.full_until {
            let mut segments = self.used.range(self.full_until..).peekable();
            while let Some((_, used)) = segments.next() {
                match segments.peek() {
                    Some((next, _)) if *used >= self.limit => self.full_until = **next,
                    _ => break,
                }
            }
        }
    }
}

/// What stands in one area, for the rule that a cleared area holds nobody else.
#[derive(Default)]
struct Area {
    /// Start, end, kind, clears; in order of start.
    placed: Vec<(u64, u64, usize, bool)>,
}

impl Area {
    fn earliest(&self, from: u64, activity: &Activity) -> u64 {
        let mut start = from;
        if activity.duration_min == 0 || (activity.people == 0 && !activity.clears_area) {
            return start;
        }
        // In order of start, so one pass is enough: whatever was passed ends before the start at hand or does not disturb.
        for (begins, ends, kind, clears) in &self.placed {
            if *begins >= start + activity.duration_min {
                break;
            }
            if *ends > start && *kind != activity.kind && (*clears || activity.clears_area) {
                start = *ends;
            }
        }
        start
    }

    fn take(&mut self, start: u64, activity: &Activity) {
        if activity.duration_min > 0 && (activity.people > 0 || activity.clears_area) {
            let at = self.placed.partition_point(|placed| placed.0 <= start);
            self.placed.insert(at, (start, start + activity.duration_min, activity.kind, activity.clears_area));
        }
    }
}

/// The timetable of `activities` with `crew`.
///
/// 1. Forward and backward pass without limits: earliest and latest times, the longest chain.
/// 2. The activity with the smallest latest finish (then the lowest index) among those whose predecessors stand is put at the earliest
///    time at which its predecessors are done, its people are free, and its area allows it; until all stand.
///
/// `None` where an activity needs more people than [`Crew::most`], names a later activity in `after`, or an area or skill is unknown to
/// nobody: callers check people when rates are read.
pub fn schedule(activities: &[Activity], areas: usize, crew: &Crew) -> Option<Schedule> {
    let n = activities.len();
    let mut earliest = vec![0u64; n];
    let mut cause: Vec<Option<usize>> = vec![None; n];
    for (i, activity) in activities.iter().enumerate() {
        if activity.people > crew.most(activity.skill) || activity.area >= areas || activity.skill >= crew.by_skill.len() {
            return None;
        }
        for before in &activity.after {
            if *before >= i {
                return None;
            }
            let end = earliest[*before] + activities[*before].duration_min;
            if end > earliest[i] || cause[i].is_none() {
                earliest[i] = earliest[i].max(end);
                cause[i] = Some(*before);
            }
        }
    }
    let end_of = |i: usize| earliest[i] + activities[i].duration_min;
    let last = (0..n).max_by_key(|i| (end_of(*i), Reverse(*i)));
    let chain_min = last.map_or(0, end_of);
    let mut chain: Vec<usize> = std::iter::successors(last, |i| cause[*i]).collect();
    chain.reverse();

    let mut latest_finish = vec![chain_min; n];
    let mut followers = vec![0usize; n];
    for i in (0..n).rev() {
        let start = latest_finish[i] - activities[i].duration_min;
        for before in &activities[i].after {
            latest_finish[*before] = latest_finish[*before].min(start);
            followers[*before] += 1;
        }
    }
    let latest_start_min: Vec<u64> = (0..n).map(|i| latest_finish[i] - activities[i].duration_min).collect();

    let mut next: Vec<Vec<usize>> = followers.iter().map(|count| Vec::with_capacity(*count)).collect();
    let mut waits = vec![0usize; n];
    for (i, activity) in activities.iter().enumerate() {
        waits[i] = activity.after.len();
        for before in &activity.after {
            next[*before].push(i);
        }
    }
    let mut whole = Profile::new(crew.people);
    let mut skills: Vec<Option<Profile>> = crew.by_skill.iter().map(|limit| limit.map(Profile::new)).collect();
    let mut places: Vec<Area> = (0..areas).map(|_| Area::default()).collect();
    let mut ready: BinaryHeap<Reverse<(u64, usize)>> = (0..n).filter(|i| waits[*i] == 0).map(|i| Reverse((latest_finish[i], i))).collect();
    let mut start_min = vec![0u64; n];
    let mut ready_min = 0;
    while let Some(Reverse((_, i))) = ready.pop() {
        let activity = &activities[i];
        let mut start = activity.after.iter().map(|before| start_min[*before] + activities[*before].duration_min).max().unwrap_or(0);
        loop {
            let mut later = whole.earliest(start, activity.duration_min, activity.people);
            if let Some(profile) = &skills[activity.skill] {
                later = profile.earliest(later, activity.duration_min, activity.people);
            }
            later = places[activity.area].earliest(later, activity);
            if later == start {
                break;
            }
            start = later;
        }
        whole.take(start, activity.duration_min, activity.people);
        if let Some(profile) = &mut skills[activity.skill] {
            profile.take(start, activity.duration_min, activity.people);
        }
        places[activity.area].take(start, activity);
        start_min[i] = start;
        ready_min = ready_min.max(start + activity.duration_min);
        for follower in &next[i] {
            waits[*follower] -= 1;
            if waits[*follower] == 0 {
                ready.push(Reverse((latest_finish[*follower], *follower)));
            }
        }
    }
    let mut bound_min = chain_min;
    let shared = |work: u64, people: u32| if people > 0 { work.div_ceil(u64::from(people)) } else { 0 };
    let work_of = |of: &dyn Fn(&Activity) -> bool| -> u64 {
        activities.iter().filter(|activity| of(activity)).map(|activity| activity.duration_min * u64::from(activity.people)).sum()
    };
    bound_min = bound_min.max(shared(work_of(&|_| true), crew.people));
    for (skill, limit) in crew.by_skill.iter().enumerate() {
        if let Some(limit) = limit {
            bound_min = bound_min.max(shared(work_of(&|activity| activity.skill == skill), *limit));
        }
    }
    Some(Schedule { start_min, latest_start_min, longest_chain: chain, longest_chain_min: chain_min, ready_min, bound_min })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn activity(duration_min: u64, people: u32, after: &[usize]) -> Activity {
        Activity { duration_min, people, after: after.to_vec(), ..Activity::default() }
    }

    fn crew(people: u32) -> Crew {
        Crew { people, by_skill: vec![None, None, Some(1)] }
    }

    #[test]
    fn verif_small_networks_have_their_known_answers() {
        // Two chains of 30 + 60 and 20 + 20 and their join of 10: 100 min, whoever is there.
        let net = [activity(30, 1, &[]), activity(60, 1, &[0]), activity(20, 1, &[]), activity(20, 1, &[2]), activity(10, 1, &[1, 3])];
        let two = schedule(&net, 1, &crew(2)).unwrap();
        assert_eq!((two.longest_chain_min, two.ready_min, two.bound_min), (100, 100, 100));
        assert_eq!(two.longest_chain, [0, 1, 4]);
        assert_eq!(two.latest_start_min, [0, 30, 50, 70, 90]);
        // One person does it all: 140 min.
        let one = schedule(&net, 1, &crew(1)).unwrap();
        assert_eq!((one.ready_min, one.bound_min), (140, 140));
        // A cure takes nobody: one person works through it.
        let cure = [activity(10, 1, &[]), activity(500, 0, &[0]), activity(300, 1, &[])];
        assert_eq!(schedule(&cure, 1, &crew(1)).unwrap().ready_min, 510);
        // The same cure keeps everyone out of the area, but not out of another.
        let mut cleared = cure.to_vec();
        (cleared[1].clears_area, cleared[1].kind) = (true, 1);
        assert_eq!(schedule(&cleared, 1, &crew(1)).unwrap().ready_min, 810);
        cleared[2].area = 1;
        assert_eq!(schedule(&cleared, 2, &crew(1)).unwrap().ready_min, 510);
        // More people than there are, or an order with a circle, is no timetable.
        assert_eq!(schedule(&[activity(1, 3, &[])], 1, &crew(2)), None);
        assert_eq!(schedule(&[activity(1, 1, &[0])], 1, &crew(2)), None);
        assert_eq!(schedule(&[], 0, &crew(1)).unwrap(), Schedule::default());
    }

    fn networks() -> impl Strategy<Value = Vec<Activity>> {
        let before = proptest::collection::vec(any::<u32>(), 0..3);
        let one = (0u64..90, 0u32..3, 0usize..3, 0usize..3, proptest::bool::weighted(0.3), 0usize..4, before);
        proptest::collection::vec(one, 0..40).prop_map(|rows| {
            let mut net: Vec<Activity> = Vec::new();
            for (i, (duration_min, people, skill, area, clears_area, kind, before)) in rows.into_iter().enumerate() {
                let mut after: Vec<usize> = before.iter().filter(|_| i > 0).map(|x| *x as usize % i.max(1)).collect();
                after.sort_unstable();
                after.dedup();
                let people = if skill == 2 { people.min(1) } else { people };
                net.push(Activity { duration_min, people, skill, area, clears_area, kind, after });
            }
            net
        })
    }

    proptest! {
        #[test]
        fn verif_every_timetable_keeps_order_crew_and_cleared_areas(net in networks(), people in 2u32..6) {
            let crew = crew(people);
            let plan = schedule(&net, 3, &crew).unwrap();
            let span = |i: usize| (plan.start_min[i], plan.start_min[i] + net[i].duration_min);
            let mut ready = 0;
            for (i, activity) in net.iter().enumerate() {
                let (start, end) = span(i);
                ready = ready.max(end);
                for before in &activity.after {
                    prop_assert!(span(*before).1 <= start);
                }
                // Whoever overlaps the first minute of this one.
                let busy = |of: &dyn Fn(&Activity) -> bool| -> u32 {
                    (0..net.len()).filter(|j| of(&net[*j]) && span(*j).0 <= start && start < span(*j).1).map(|j| net[j].people).sum()
                };
                prop_assert!(busy(&|_| true) <= people);
                prop_assert!(busy(&|other| other.skill == 2) <= 1);
                for (j, other) in net.iter().enumerate().filter(|(j, other)| *j != i && other.area == activity.area) {
                    let apart = span(j).1 <= start || end <= span(j).0 || start == end || span(j).0 == span(j).1;
                    let alike = other.kind == activity.kind;
                    let present = other.people > 0 || other.clears_area;
                    prop_assert!(apart || alike || !activity.clears_area || !present, "{i} {j}");
                }
            }
            prop_assert_eq!(plan.ready_min, ready);
            prop_assert!(plan.ready_min >= plan.bound_min && plan.bound_min >= plan.longest_chain_min);
            let along: u64 = plan.longest_chain.iter().map(|i| net[*i].duration_min).sum();
            prop_assert_eq!(along, plan.longest_chain_min);
            for pair in plan.longest_chain.windows(2) {
                prop_assert!(net[pair[1]].after.contains(&pair[0]));
            }
            // With people and areas enough, the longest chain is the timetable.
            let free: Vec<Activity> = net.iter().map(|a| Activity { clears_area: false, skill: 0, ..a.clone() }).collect();
            let free = schedule(&free, 3, &Crew { people: 1000, by_skill: vec![None] }).unwrap();
            prop_assert_eq!(free.ready_min, free.longest_chain_min);
        }
    }
}
