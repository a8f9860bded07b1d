//! Any job that keeps to the rules, drawn from few values, so that two of them have much in common.
// A field that comes later is left as it is by default until it is drawn here too.
#![allow(clippy::needless_update)]
use conewright::job::record::{
    Attitude, CoilEntry, Conditions, Conflict, Filed, Finding, Job, Look, Order, Override, Part, PartKind, Phase,
    Reference, ReferenceKind, Shown, Side, VERSION,
};
use conewright::verdict::limits::PairLimit;
use conewright::verdict::part_limits::Verdict;
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

pub fn text() -> impl Strategy<Value = String> {
    select(vec!["", "a", "b", "<script>x</script>", "Ω \" \\ \u{0}\n", "__proto__"]).prop_map(str::to_owned)
}

fn name() -> impl Strategy<Value = String> {
    select(vec!["f_s_hz", "q_ts", "knock"]).prop_map(str::to_owned)
}

fn id() -> impl Strategy<Value = String> {
    select(vec!["a1", "b-2", "C_3"]).prop_map(str::to_owned)
}

fn day() -> impl Strategy<Value = String> {
    select(vec!["", "2024-02-29", "2026-01-31"]).prop_map(str::to_owned)
}

fn number() -> impl Strategy<Value = f64> {
    select(vec![0.0, 0.1, -3.5, 6.4, 1e15])
}

fn moment() -> impl Strategy<Value = f64> {
    select(vec![0.0, 1.0, 2.0, 3.0])
}

fn order() -> impl Strategy<Value = Order> {
    (any::<bool>(), text(), text(), text(), any::<bool>(), day(), day()).prop_map(
        |(wanted, work, surround, roll, leave_cap, sent_on, returned_on)| Order {
            wanted,
            work,
            surround,
            roll,
            leave_cap,
            sent_on,
            returned_on,
        },
    )
}

fn reference() -> impl Strategy<Value = Reference> {
    let kind = select(vec![ReferenceKind::Published, ReferenceKind::Earlier]);
    (name(), number(), number(), number(), any::<bool>(), kind, text()).prop_map(
        |(name, value, below, above, common_practice, kind, source)| Reference {
            name,
            value,
            below,
            above,
            common_practice,
            kind,
            source,
        },
    )
}

fn look() -> impl Strategy<Value = Look> {
    let finding = select(vec![Finding::Sound, Finding::Fault, Finding::Unclear, Finding::Absent]);
    (name(), finding, text(), vec(id(), 0..3), moment()).prop_map(|(point, finding, note, photos, at_ms)| Look {
        point,
        finding,
        note,
        photos,
        at_ms,
    })
}

fn phase() -> impl Strategy<Value = Phase> {
    select(vec![Phase::AsFound, Phase::Returned, Phase::BreakIn, Phase::AsLeft])
}

fn coil() -> impl Strategy<Value = CoilEntry> {
    let resistances = (vec(number(), 0..3), vec(number(), 0..3), of(number()), number(), number());
    let rest = (of(number()), of(number()), any::<bool>(), any::<bool>(), phase(), moment(), text());
    (resistances, rest).prop_map(
        |(
            (shown_ohm, moved_ohm, leads_ohm, meter_percent, meter_ohm),
            (temperature_c, to_frame_megohm, to_frame_over_range, over_range, phase, at_ms, note),
        )| CoilEntry {
            shown_ohm,
            moved_ohm,
            leads_ohm,
            meter_percent,
            meter_ohm,
            temperature_c,
            to_frame_megohm,
            to_frame_over_range,
            over_range,
            phase,
            at_ms,
            note,
        },
    )
}

fn conditions() -> impl Strategy<Value = Conditions> {
    let attitude = select(vec![Attitude::FaceUp, Attitude::FaceDown, Attitude::Upright]);
    (of(number()), of(number()), of(number()), of(attitude), of(number())).prop_map(
        |(temperature_c, level_v, rest_min, attitude, break_in_h)| Conditions {
            temperature_c,
            level_v,
            rest_min,
            attitude,
            break_in_h,
            ..Conditions::default()
        },
    )
}

fn filed() -> impl Strategy<Value = Filed> {
    (id(), phase(), conditions(), text(), moment()).prop_map(|(reading, phase, conditions, note, at_ms)| Filed {
        reading,
        phase,
        conditions,
        note,
        at_ms,
        ..Filed::default()
    })
}

fn judged() -> impl Strategy<Value = Override> {
    let verdict = select(vec![Verdict::Pass, Verdict::NotProven, Verdict::Fail]);
    (name(), verdict, text(), text(), moment()).prop_map(|(check, verdict, reason, by, at_ms)| Override {
        check,
        verdict,
        reason,
        by,
        at_ms,
    })
}

/// The first of each kind only.
fn once<T>(list: Vec<T>, same: impl Fn(&T, &T) -> bool) -> Vec<T> {
    let mut kept: Vec<T> = Vec::new();
    for entry in list {
        if !kept.iter().any(|other| same(other, &entry)) {
            kept.push(entry);
        }
    }
    kept
}

fn part() -> impl Strategy<Value = Part> {
    let kind = select(vec![PartKind::Driver, PartKind::Cabinet, PartKind::Crossover]);
    let side = select(vec![Side::None, Side::Left, Side::Right]);
    let head = (id(), kind, side, text(), text(), text(), of(number()), order());
    let lists = (vec(reference(), 0..3), vec(look(), 0..3), vec(coil(), 0..2), vec(filed(), 0..3), vec(judged(), 0..2));
    (head, lists, vec(id(), 0..3), text()).prop_map(
        |(
            (id, kind, side, band, model, mark, rated_impedance_ohm, order),
            (references, looks, coils, filed, overrides),
            photos,
            note,
        )| Part {
            id,
            kind,
            side,
            band,
            model,
            mark,
            rated_impedance_ohm,
            order,
            references: once(references, |a, b| (&a.name, &a.source, a.kind) == (&b.name, &b.source, b.kind)),
            looks,
            coils,
            filed: once(filed, |a, b| a.reading == b.reading),
            overrides,
            photos,
            note,
            ..Part::default()
        },
    )
}

fn pair_limit() -> impl Strategy<Value = PairLimit> {
    (name(), number(), number()).prop_map(|(name, good, acceptable)| PairLimit { name, good, acceptable })
}

fn conflict() -> impl Strategy<Value = Conflict> {
    (id(), name(), text(), moment()).prop_map(|(part, field, other, at_ms)| Conflict { part, field, other, at_ms })
}

fn shown() -> impl Strategy<Value = Shown> {
    any::<[bool; 6]>().prop_map(|[curves, before_and_after, refused, method, photos, care]| Shown {
        curves,
        before_and_after,
        refused,
        method,
        photos,
        care,
        ..Shown::default()
    })
}

/// Of one and the same id.
pub fn job() -> impl Strategy<Value = Job> {
    let head = (text(), text(), text(), text(), text(), text(), text(), day(), day());
    let lists = (vec(part(), 0..4), vec(pair_limit(), 0..3), vec(text(), 0..3), vec(text(), 0..3), vec(text(), 0..3));
    (head, lists, shown(), moment(), moment(), vec(conflict(), 0..3)).prop_map(
        |(
            (number, title, owner, wanted, technician, workshop, specialist, received_on, handed_over_on),
            (parts, pair_limits, done, not_done, care),
            shown,
            created_at_ms,
            changed_at_ms,
            conflicts,
        )| Job {
            version: VERSION,
            id: "the-job".to_owned(),
            number,
            title,
            owner,
            wanted,
            technician,
            workshop,
            specialist,
            received_on,
            handed_over_on,
            parts: once(parts, |a, b| a.id == b.id),
            pair_limits: once(pair_limits, |a, b| a.name == b.name),
            done,
            not_done,
            care,
            shown,
            created_at_ms,
            changed_at_ms,
            conflicts: once(conflicts, |a, b| (&a.part, &a.field, &a.other) == (&b.part, &b.field, &b.other)),
            ..Job::default()
        },
    )
}
