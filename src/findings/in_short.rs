//! Answers in a few words, for lists of them: what the verdict alone would not say.

use crate::findings::answer::{Answer, Verdict};
use crate::findings::evidence::capital;
use crate::findings::pack_draw::INTO_RESERVE;
use crate::season::QuestionKind;

pub(super) fn put(answers: &mut [Answer]) {
    for answer in answers {
        answer.in_short = match answer.question {
            QuestionKind::Pack => pack(answer),
            QuestionKind::PowerAndDuration => timer(answer),
            _ => None,
        };
    }
}

fn pack(answer: &Answer) -> Option<String> {
    let of = |key: &str| answer.estimates.get(key);
    let ageing = match answer.verdict {
        Verdict::Answered => {
            let rate = of("resistance_change_per_flight")?;
            if rate.low? > 0.0 {
                "ageing"
            } else {
                "no ageing"
            }
        }
        _ => "ageing not settled",
    };
    let charge = of(INTO_RESERVE)
        .and_then(|share| share.value)
        .map(|share| match share {
            0.0 => "charge enough",
            s if s >= 0.5 => "charge not enough",
            _ => "charge not always enough",
        });
    let parts: Vec<&str> = charge.into_iter().chain([ageing]).collect();
    Some(capital(&parts.join(", ")))
}

fn timer(answer: &Answer) -> Option<String> {
    let seconds = ["timer", "extrapolated_timer"]
        .into_iter()
        .find_map(|key| answer.estimates.get(key)?.value)?;
    (answer.verdict == Verdict::Answered).then(|| format!("Timer {seconds:.0} s"))
}
