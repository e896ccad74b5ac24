//! The sentence that a person reads for each notice (a warning or a note about a survey).
//!
//! All sentences stand in one match over the whole table, long as it is: the compiler then asks for the sentence of a new notice,
//! which it could not do of several matches that each leave the rest to the next.

use super::amount::{area, bare, clock, distance, length, pace};
use crate::notice::{
    BentSide, ColumnRead, Course, Damage, NoSlope, NotFound, Notice, Trueness, UnreadSize,
};
use crate::process::Accuracy;
use crate::units::Units;
use serde::ser::{Serialize, SerializeMap, Serializer};
use std::fmt::{self, Display, Formatter};

/// A notice in the result document: its code, its sentence in metric units, and its data.
impl Serialize for Notice {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(Some(3))?;
        map.serialize_entry("code", self.code())?;
        map.serialize_entry("message", &self.to_string())?;
        map.serialize_entry("data", &self.data())?;
        map.end()
    }
}

/// What to do where letters may not stand at the corners that were taped.
const NAME_THEM: &str = "Look at the plan whether each letter stands at a corner; if not, name the corners in [[corner]] by \
     the time or the pause, or measure the sides and a diagonal as a [[shape]].";
const WALK_IT_AGAIN: &str = "Look at the plan, and walk it again: twice round, or standing at one place at the start and at the end.";
const ON_A_PLAN: &str = "Areas are as on a plan. Where the lawn falls more than 1 in 7, measure the fall and give slope_percent in the job sheet.";

impl Notice {
    /// The sentence with lengths, areas and weights in these units; `to_string` gives it in metric ones.
    #[must_use]
    pub fn said(&self, units: Units) -> String {
        In(self, units).to_string()
    }
}

impl Display for Notice {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        In(self, Units::Metric).fmt(f)
    }
}

/// A notice in the reader's units.
struct In<'a>(&'a Notice, Units);

impl Display for In<'_> {
    #[allow(
        clippy::too_many_lines,
        reason = "one sentence a notice, in the order of the table; why in one match is said above"
    )]
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let In(notice, units) = self;
        let m = |m: f64, digits: usize| length(*units, m, digits);
        let m2 = |m2: f64, digits: usize| area(*units, m2, digits);
        match notice {
            Notice::Refused(fault) => match fault.refusal() {
                Some(refusal) => fault.clone().saying(refusal.said(*units)).fmt(f),
                None => fault.fmt(f),
            },
            Notice::InFile { file, notice } => write!(f, "{file}: {}", notice.said(*units)),
            Notice::SheetsStay(notice) => write!(
                f,
                "{} Its sheets are still those of when it was last measured.",
                notice.said(*units)
            ),

            Notice::XmlBroken { line, why } => write!(
                f,
                "The file is broken at line {line} ({why}); what came before was kept. Export it again."
            ),
            Notice::RouteUsed {} => f.write_str(
                "The GPX file has no track; its route was used. A route is drawn by hand or thinned: its corners are \
                 only as good as whoever placed them.",
            ),
            Notice::AccuracyStated { accuracy } => {
                write!(f, "The horizontal accuracy that the file states was {}.", taken_for(*accuracy))
            }
            Notice::StoppedAsAsked { fixes } => {
                write!(f, "Reading stopped after {fixes} fixes, as asked.")
            }
            Notice::StoppedAtMost { fixes } => write!(f, "Reading stopped after {fixes} fixes."),
            Notice::InputBroken { after_line, why } => write!(
                f,
                "The file breaks off after line {after_line} ({why}); what came before was kept. Copy it from the logger again."
            ),
            Notice::ChecksumsMixed {} => f.write_str(
                "Checksums of a whole sentence type turned wrong or right along the way. Save the log to a file and \
                 read that, so that it can be judged as a whole.",
            ),
            Notice::Damaged { file, damaged, kinds } | Notice::MuchDamaged { file, damaged, kinds } => {
                write!(f, "{file}: {damaged} damaged record(s) left out: {}.", all_damage(kinds))
            }
            Notice::ChecksumsBroken { sentences } => write!(
                f,
                "Every {} sentence has a wrong or missing checksum while others are right: the logger computes it \
                 wrongly. They were used; damage inside them would not show.",
                sentences.join(" and ")
            ),
            Notice::ChecksumsMissing {} => f.write_str(
                "The log has no checksums. It was used; damage inside a sentence would not show. Switch checksums on in \
                 the logger.",
            ),
            Notice::ClockBackwards { times, file, line, by_s } => write!(
                f,
                "The log's clock runs backwards {times} time(s), first at {file} line {line} by {by_s:.0} s. The order of \
                 the file was kept; if two walks were joined the wrong way round, give them as separate files."
            ),
            Notice::FilesOrder {} => f.write_str(
                "The files were taken in the order given, though their times say another order. If the times are right, use \
                 --by-time.",
            ),
            Notice::RecordedTwice { file, of, fixes } => write!(
                f,
                "{file} has {fixes} positions that {of} has too. They were taken once: a lap saved twice is no second lap."
            ),
            Notice::RecordedTogether { file, of, fixes } => write!(
                f,
                "{file} and {of} were recorded at the same time and lie together for {fixes} positions: one lap with two \
                 receivers, not two laps. Those of {file} were left out. Give the better receiver's log alone; if these \
                 are two laps, the clock of one is wrong: join them into one file."
            ),
            Notice::TimesOutOfOrder { records, within_s } => write!(
                f,
                "{records} record(s) were out of order by less than {within_s:.0} s and were put in order."
            ),
            Notice::TimesRepeated { records } => write!(
                f,
                "{records} record(s) have the same time as the one before but another place: the log's times are \
                 coarser than its rate. They were spread evenly."
            ),
            Notice::TimesMissing { records, first_line } => write!(
                f,
                "{records} record(s) have a position but no time, first at line {first_line}; they were left out, as all others have one."
            ),
            Notice::TwoEngines { used, left_out, apart_m } => write!(
                f,
                "{used} and {left_out} give positions {apart_m} apart in the same log: two position engines. {used} was used \
                 throughout and {left_out} left out; switch one of them off in the receiver.",
                apart_m = m(*apart_m, 1)),
            Notice::PointsAsCorners { points } => write!(
                f,
                "There is no line in it: its {points} points were taken as corners, in their order."
            ),
            Notice::BedSize { sizes, more } => write!(
                f,
                "A bed's size cannot be read: {}. Nothing was taken off there, and it was not taken for a corner of \
                 the lawn. Write the size as 0.7, 70cm or 2ft 4in; leave it empty for a corner.",
                unread(sizes, *more)
            ),
            Notice::Columns { between, columns } => {
                write!(f, "Point list separated by {between}: {}.", titles(columns))
            }
            Notice::ColumnsGuessed { between, columns } => write!(
                f,
                "Point list separated by {between}: {}. There is no header that says so, and the two could be the other way \
                 round, which would give a wrong area: name the columns in a first row (latitude, longitude).",
                titles(columns)
            ),
            Notice::LocalPlan {} => f.write_str(
                "x and y were read as places on a plan, y to its north. Nothing here has a latitude or longitude, so the files that \
                 need them (GPX, KML, GeoJSON) are left out.",
            ),
            Notice::GridAccuracy { code, name, accuracy_m } => write!(
                f,
                "The grid EPSG:{code} ({name}) is tied to the receiver's positions to about {accuracy_m} m only: eastings and \
                 northings may all be out together by so much. The area doesn't feel it."
            ),

            Notice::HoleLeftOut { why } => {
                write!(f, "A hole of the list was not taken off: {}", why.said(*units))
            }
            Notice::TracksJoined { tracks } => write!(
                f,
                "The log holds {tracks} tracks; they were joined into one walk."
            ),
            Notice::TracksLeftOut { tracks } => write!(
                f,
                "Of the {tracks} tracks in the log only one comes round; the others were left out. Check that nothing is missing."
            ),
            Notice::TrackInside { area_m2 } => write!(
                f,
                "A track of {area_m2} lies wholly inside the lawn and was taken off as a deduction.",
                area_m2 = m2(*area_m2, 1)),
            Notice::TrackBeside { area_m2 } => write!(
                f,
                "A track of {area_m2} lies beside the first and was counted as another lawn.",
                area_m2 = m2(*area_m2, 1)),
            Notice::DeductsNothing { label, away_m } => write!(
                f,
                "“{label}” lies {} from the lawn, so nothing was taken off for it. Check its place.",
                distance(*away_m, *units)
            ),
            Notice::DeductedTwice { label, within } => write!(
                f,
                "“{label}” lies within “{within}”, so nothing more was taken off for it. Check the places and sizes of both."
            ),
            Notice::DeductionLarger { label, area_m2, lawn_m2 } => write!(
                f,
                "“{label}” is {area_m2}, larger than the lawn it is taken off ({lawn_m2}). Check its size, or whether \
                 two logs are exchanged.",
                area_m2 = m2(*area_m2, 0), lawn_m2 = m2(*lawn_m2, 0)),
            Notice::LawnsOverlap { shared_m2 } => write!(
                f,
                "Two lawns of this job share {shared_m2}, which is counted twice. Check the walks.",
                shared_m2 = m2(*shared_m2, 1)),
            Notice::LawnsFarApart { one, other, apart_m } => write!(
                f,
                "The lawns “{one}” and “{other}” lie {} apart, and are ordered as one job. Check which log is whose: one may \
                 be of another job.",
                distance(*apart_m, *units)
            ),
            Notice::MarkWithoutSize { label } => write!(
                f,
                "The mark “{label}” has no radius in its name or comment, so nothing was taken off for it. If it is a bed, \
                 write for example “radius 0.35 m” in its comment."
            ),
            Notice::BedNotFound { label, why } => {
                let why = not_found(*why, *units, "inside the edge");
                write!(f, "The bed “{label}” was not taken off: {why}.")
            }
            Notice::CornerNotFound { name, why } => {
                let why = not_found(*why, *units, "on the edge");
                write!(f, "The corner “{name}” is not on the edge: {why}.")
            }
            Notice::CornersOutOfOrder { walk } => write!(
                f,
                "The corners of {walk} do not lie along the edge in the order in which the walk stood at them: at this receiver's \
                 error they cannot be told apart. Look at the plan; walk it again, or measure the sides and a diagonal as a \
                 [[shape]]."
            ),

            Notice::NoTimes { walk } => write!(
                f,
                "The fixes of {walk} carry no times; a pace of {} was assumed to judge how errors are related.",
                match units {
                    Units::Metric => "1 m/s",
                    Units::Imperial => "3 ft a second",
                }
            ),
            Notice::SpikesRemoved { walk, fixes } => write!(
                f,
                "{fixes} fix(es) of {walk} were far off the walk for a moment and were left out."
            ),
            Notice::PositionFroze { walk, fixes } => write!(
                f,
                "The position of {walk} stood still for {fixes} fix(es) while the walk went on, and then caught up. They were \
                 left out; look at that stretch on the plan, and walk it again if a corner or curve is missing."
            ),
            Notice::OffTheWalk { walk, fixes } => write!(
                f,
                "{fixes} fixes of {walk} run off the walk and come back. They were left out; look at that stretch on the \
                 plan, and walk again if it does not look like the edge."
            ),
            Notice::StreamsAlternate { walk, apart_m } => write!(
                f,
                "Every other fix of {walk} lies {apart_m} to one side of the rest: two position streams are woven \
                 together. Set the logger to record one, and walk again, or check the area with a tape.",
                apart_m = m(*apart_m, 1)),
            Notice::StreamsWoven { walk, apart_m } => write!(
                f,
                "Two position streams {apart_m} apart are woven together in {walk}; the fuller one was used. Set the \
                 logger to record one, or check the area with a tape.",
                apart_m = m(*apart_m, 1)),
            Notice::PartLapUnused { walk, laps, turns } => {
                once_more(f, walk, *laps, *turns)?;
                f.write_str(" That part was not used.")
            }
            Notice::LapLeftOut { walk, laps, turns } => {
                once_more(f, walk, *laps, *turns)?;
                f.write_str(" If another lap was walked, a jump or gap hides it: look at the plan.")
            }
            Notice::MostLeftOut { walk, share } => write!(
                f,
                "{:.0} % of the way of {walk} is not part of the lap that was found. Look at the plan whether it is the lawn; if not, \
                 walk it again without detours.",
                100.0 * share
            ),
            Notice::LapsLieApart { walk, laps, apart_m } => write!(
                f,
                "The {laps} laps found of {walk} do not lie on each other: their middles are up to {apart_m} apart. Parts of one \
                 lap may have been taken for laps; then the lawn is larger than this. Look at the plan.",
                apart_m = m(*apart_m, 1)),
            Notice::LapDisagrees { walk, lap, of, from_s, to_s, area_m2, others_m2 } => write!(
                f,
                "Lap {lap} of {of} of {walk}, from {} to {}, holds {area_m2} where the others hold about {others_m2}. \
                 It was left out. Look at the plan which of them is the lawn.",
                clock(*from_s),
                clock(*to_s), area_m2 = m2(*area_m2, 0), others_m2 = m2(*others_m2, 0)),
            Notice::LapsDiffer { walk, least_m2, most_m2 } => write!(
                f,
                "The laps of {walk} hold from {least_m2} to {most_m2}, further apart than errors explain: one of \
                 them cuts a part off, or takes in what is not lawn. Look at the plan, and walk it once more.",
                least_m2 = bare(m2(*least_m2, 1)), most_m2 = m2(*most_m2, 1)),
            Notice::LapLengthsDiffer { walk, least_m, most_m } => write!(
                f,
                "The laps of {walk} are from {least_m} to {most_m} long: one of them cuts a part off, or was begun again. \
                 Look at the plan, and walk it once more.",
                least_m = bare(m(*least_m, 0)), most_m = m(*most_m, 0)),
            Notice::ClosingGap { walk, gap_m } => write!(
                f,
                "The end of {walk} is {gap_m} from its start, more than this receiver's error explains; a straight \
                 line was drawn across. Look whether the position jumped on the way; walk past the start next time.",
                gap_m = m(*gap_m, 1)),
            Notice::StoppedShort { walk, gap_m } => write!(
                f,
                "The log of {walk} stops {gap_m} short of its start, which lies straight ahead; a straight line was drawn across. \
                 Walk it again, to the start and a few steps past it: until then the band allows for a jump of so much.",
                gap_m = m(*gap_m, 1)),
            Notice::MayCloseElsewhere { walk, more_m2 } => write!(
                f,
                "The path of {walk} comes back to itself at two places, and may be closed at either: at the other it would hold \
                 {} {}. Look at the plan whether the edge drawn is the lawn's; if it is not, walk it again, coming to the \
                 edge from outside.",
                m2(more_m2.abs(), 1),
                if *more_m2 > 0.0 { "more" } else { "less" }
            ),
            Notice::Driven { walk, pace_m_s, carry_sigma_m } => write!(
                f,
                "The path of {walk} was driven or ridden, not walked, at about {}. An edge is not kept \
                 to the centimetre at that speed: the band allows for {carry_sigma_m} to one side all the way round (one \
                 sigma). Look at the plan whether it is the lawn's edge.",
                pace(*pace_m_s, *units), carry_sigma_m = m(*carry_sigma_m, 1)),
            Notice::LapsCross { walk, back_m2 } => write!(
                f,
                "Each lap of {walk} crosses itself: {back_m2} are walked round the other way and count against the rest. Look at the plan.",
                back_m2 = m2(*back_m2, 0)),
            Notice::CrossesBack { walk, back_m2 } => write!(
                f,
                "The path of {walk} crosses itself: about {back_m2} are walked round the other way and count \
                 against the rest. Look at the plan, and walk without crossing the path.",
                back_m2 = m2(*back_m2, 1)),
            Notice::CrossesTwice { walk, twice_m2 } => write!(
                f,
                "The path of {walk} crosses itself: about {twice_m2} are walked round twice within one lap and \
                 count twice. Two laps may have been taken for one: look at the plan.",
                twice_m2 = m2(*twice_m2, 1)),
            Notice::OtherRound { walk, area_m2 } => write!(
                f,
                "Besides the lap(s) found, {walk} also goes round another place, of {area_m2}. It was left out: look at the \
                 plan whether it belongs to the lawn.",
                area_m2 = m2(*area_m2, 0)),
            Notice::BackBeside { walk, share } => write!(
                f,
                "{:.0} % of the path of {walk} is walked back close beside itself. Look at the plan whether all of it is the lawn's edge.",
                100.0 * share
            ),
            Notice::ToAndFro { walk, times_as_long } => write!(
                f,
                "The path of {walk} goes to and fro: it is {times_as_long:.1} times as long as the way round all of it. Look at the \
                 plan whether all of it is the lawn's edge."
            ),
            Notice::MostlyElsewhere { walk, away_m, laps, lap_m } => write!(
                f,
                "Of the path of {walk} {away_m} are not part of the {laps} lap(s) of {lap_m} that were found. Look at the \
                 plan whether they are the lawn.",
                away_m = m(*away_m, 0), lap_m = m(*lap_m, 0)),
            Notice::DrawnFromCorners { why } => write!(
                f,
                "The walk by itself gives no lawn ({}) The lawn was drawn straight between the corners that the job sheet names and \
                 tapes. Look whether each side is straight and each corner named rightly: nothing but the tape vouches for it.",
                why.said(*units)
            ),

            Notice::DrawnNotWalked { outlines, trueness } => {
                let of = match outlines.is_empty() {
                    true => String::new(),
                    false => format!(" of “{}”", outlines.join("”, “")),
                };
                let how = match trueness {
                    Trueness::Given => "How true each is was given",
                    Trueness::Assumed => {
                        "How true each is, is assumed, as the list does not say; give --sigma if you know better"
                    }
                    Trueness::Listed => "How true each is stands in the list",
                };
                write!(
                    f,
                    "The corners{of} were drawn or listed, not walked: no lap, pause or closing checks them. {how}."
                )
            }
            Notice::DrawnOpen { walk, gap_m, way_m } => write!(
                f,
                "The ends of {walk} as drawn are {gap_m} apart, of {way_m} in all; it was closed straight across. If that is \
                 a side of the lawn, draw it too, back to where it begins; else draw the part that is missing.",
                gap_m = m(*gap_m, 0), way_m = m(*way_m, 0)),
            Notice::OneCornerCounts { walk, corner, neighbours_m, others_m } => write!(
                f,
                "Most of the area of {walk} hangs on its corner number {corner}: it is {neighbours_m} or more from its \
                 neighbours, while no other side is over {others_m}. Check its numbers.",
                neighbours_m = m(*neighbours_m, 0), others_m = m(*others_m, 0)),

            Notice::GapMayHideACorner { walk, lasted_s, across_m, hides_m2 } => write!(
                f,
                "There is no fix for {lasted_s:.0} s along the edge of {walk}, {across_m} straight across; up to {hides_m2} \
                 could lie behind it. If there is a corner or a curve there, walk that stretch again.",
                hides_m2 = m2(*hides_m2, 1), across_m = m(*across_m, 1)),
            Notice::FixesLostBeside { walk, lost_s, laps } => write!(
                f,
                "There is no fix for {lost_s:.0} s before or after the {laps} lap(s) found of {walk}. If the edge was walked then, a \
                 part of it is missing, or the laps are counted wrongly: look at the plan, and walk it again."
            ),
            Notice::FixesLostAtEnd { lost_s, left_out_share, laps } => write!(
                f,
                "For the last {lost_s:.0} s of the log the receiver gave no position, or one and the same, and {:.0} % of the way is not \
                 part of the {laps} lap(s) found. If the edge was walked then, the laps are not the lawn: look at the plan, and walk it again.",
                100.0 * left_out_share
            ),
            Notice::PositionJumps { walk, times, by_m } => write!(
                f,
                "The position jumps {times} time(s) along the edge of {walk}, by up to {by_m}, further than walking and noise \
                 explain. The area on one side of a jump is shifted against the other; walk it again.",
                by_m = m(*by_m, 1)),
            Notice::PositionMayJump { walk, by_m, moves_m2 } => write!(
                f,
                "The position may have jumped by {by_m} on the edge of {walk}. Noise may be all there is to it, but a jump there \
                 would move the area by {moves_m2}, which its band does not allow for: walk it once more.",
                moves_m2 = m2(*moves_m2, 1), by_m = m(*by_m, 1)),
            Notice::LapsDrift { walk, apart_m, moves_m2 } => {
                write!(f, "The laps of {walk} lie up to {apart_m} apart to one side",
                apart_m = m(*apart_m, 1))?;
                drifted(f, &m2(*moves_m2, 1))
            }
            Notice::EndsStoodApart { walk, apart_m, moves_m2 } => {
                write!(
                    f,
                    "The path of {walk} closes where it crosses itself, but where the surveyor stood at the start and at the end lies \
                     {apart_m} apart",
                apart_m = m(*apart_m, 1))?;
                drifted(f, &m2(*moves_m2, 1))
            }
            Notice::EndsTurnedApart { walk, apart_m, moves_m2 } => {
                write!(
                    f,
                    "The path of {walk} closes where it crosses itself, but where the surveyor turned on to the edge or off it lies \
                     {apart_m} from there",
                apart_m = m(*apart_m, 1))?;
                drifted(f, &m2(*moves_m2, 1))
            }
            Notice::ReceiverErrsMore { times } => write!(
                f,
                "The passes of the same places differ about {times:.1} times more than the receiver's claimed accuracy allows; \
                 the band was widened to match. Do not trust this receiver's claims on this site."
            ),

            Notice::SlopesDisagree { given_percent, seen_percent, sigma_percent } => write!(
                f,
                "The job sheet says that the lawn falls by {given_percent:.1} %, the heights of the walk say {seen_percent:.1} % \
                 (standard error {sigma_percent:.1} %). The order and the tape go by the job sheet: measure the fall again, and \
                 correct slope_percent or leave it out."
            ),
            Notice::SlopeUnknown { why: NoSlope::OutByPercent(percent) } => write!(
                f,
                "The heights in the log are too rough for a slope (it would be out by {percent:.0} %, one sigma) and were not \
                 used. {ON_A_PLAN}"
            ),
            Notice::SlopeUnknown { why: NoSlope::OffThePlaneM(off_m) } => write!(
                f,
                "The ground is no one plane: its heights are {off_m} off the best one, and were not used. {ON_A_PLAN}",
                off_m = m(*off_m, 1)),
            Notice::DateDisagrees { sheet, line, file, log } => write!(
                f,
                "The job sheet says {sheet}{}, but {file} was walked on {log}: it is another day's log, or the date is wrong.",
                in_line(*line)
            ),
            Notice::SheetDateImpossible { sheet, line, first, last } => write!(
                f,
                "The job sheet says {sheet}{}; a walk can be believed from {first} to {last}. Correct it.",
                in_line(*line)
            ),
            Notice::LogDateImpossible { file, log, first, last, meant, sheet } => {
                write!(
                    f,
                    "{file} says it was walked on {log}; a walk can be believed from {first} to {last}. "
                )?;
                match (sheet, meant) {
                    (Some(sheet), _) => write!(
                        f,
                        "The sheet's date, {sheet}, was taken: check that it is this log."
                    ),
                    (None, Some(meant)) => write!(
                        f,
                        "A receiver that lost count of GPS weeks, which begin anew every 1024, would show that on {meant}. The \
                         record was left without a date: put date = {meant}, or what is right, in the sheet's [job]."
                    ),
                    (None, None) => f.write_str(
                        "The record was left without a date: put date = in the sheet's [job].",
                    ),
                }
            }
            Notice::DatesJump { file, from, to, sheet } => write!(
                f,
                "The dates in {file} jump, from as early as {from} to as late as {to}, though its times run on: the receiver did not \
                 yet know the day. The sheet's date, {sheet}, was taken."
            ),
            Notice::DatesJumpUnsaid { file, from, to } => write!(
                f,
                "The dates in {file} jump, from as early as {from} to as late as {to}, though its times run on: the receiver did not \
                 yet know the day. The area does not depend on it, the record does: put date = in the sheet's [job]."
            ),
            Notice::DateRollover { file, log, sheet, weeks } => write!(
                f,
                "{file} says {log}, which is {weeks} weeks off the sheet's {sheet}: the receiver lost count of GPS weeks, which begin \
                 anew every 1024. The sheet's date was taken."
            ),
            Notice::QuotationExpired { until, line, walked } => write!(
                f,
                "The quotation is valid until {until}{}, before the day of the survey, {walked}. Correct valid_until.",
                in_line(*line)
            ),

            Notice::NoCornersToTape {} => f.write_str(
                "The edge shows fewer than two corners, so the tape readings of the job sheet could not be set against it. Stop for \
                 a few seconds at the places you tape between.",
            ),
            Notice::TooManyCornersToTape { points } => write!(
                f,
                "The edge has {points} corners and beds: too many to set the tape readings of the job sheet against, so these were not \
                 used. Name the corners that were taped between in [[corner]]: then no others count as corners."
            ),
            Notice::NoSuchPoint { line, points } => write!(
                f,
                "The taped line {line} names a point that the walk does not have. Its points are: {}. The reading was not used. \
                 {NAME_THEM}",
                points.join(", ")
            ),
            Notice::TapeAndWalkDisagree { finding, named } => {
                f.write_str(&finding.said(*units))?;
                match named {
                    // Only a single reading that was named can be put right by reading it again. An error that all readings share,
                    // such as a tape in feet, would come out the same and so say nothing against the walk.
                    true => f.write_str(
                        " If the tape reads the same again, it is the walk that is out: walk it again, or \
                         measure the sides and a diagonal as a [[shape]].",
                    ),
                    false => Ok(()),
                }
            }
            Notice::TapedStraight { sides, hidden_m } => write!(
                f,
                "The edge was taken as straight where it was taped from corner to corner: {}. A bulge of less than {hidden_m} \
                 would not show in this walk; if a side has one, add straight = false to its [[tape]].",
                sides.join(", "), hidden_m = m(*hidden_m, 1)),
            Notice::TapedStraightButWalkedBent { sides } => write!(
                f,
                "The walk bulges from the straight line that was taped by more than its error explains: {}. Look whether the edge \
                 bends there: add straight = false to its [[tape]] if it does, and tape offsets to it, straight = true if it does not.",
                bent(sides, *units)
            ),
            Notice::CornerNotTaped { taped, passed, stood_s } => write!(
                f,
                "The tape goes right round {}, but the walk also shows a corner at {}. {NAME_THEM}{}",
                some(taped),
                some(passed),
                stood(stood_s)
            ),
            Notice::LettersUnsure { lines, stood_s } => write!(
                f,
                "This walk is too rough to tell whether {} were taped between the corners it has under those letters. \
                 {NAME_THEM}{}",
                lines.join(", "),
                stood(stood_s)
            ),
            Notice::LengthsDisagree { label, finding } => write!(f, "\"{label}\": {}", finding.said(*units)),
            Notice::OffsetsTooFarApart { label, radii, adds_percent } => write!(
                f,
                "\"{label}\": the edge between the {} adds {adds_percent:.1} % to the error; take them closer together where it bends.",
                if *radii { "radii" } else { "offsets" }
            ),
            Notice::ShapeUncertain { label, error_percent } => write!(
                f,
                "\"{label}\": an error of {error_percent:.0} % of its area is possible; a figure so thin should be measured by its width."
            ),
            Notice::NotOnAPlan { labels } => write!(
                f,
                "No plan is drawn, and turf is counted by percentage: at_m and bearing_deg are missing for {}.",
                labels.join(", ")
            ),
            Notice::ShapesOverlap { overlap_m2 } => write!(
                f,
                "Parts of the lawn overlap by {overlap_m2} on the plan; that was counted once. Check at_m, bearing_deg and side.",
                overlap_m2 = m2(*overlap_m2, 2)),
            Notice::DeductionOutside { label, outside_m2 } => write!(
                f,
                "\"{label}\": {outside_m2} of it lie outside the lawn or within another deduction and were not taken off.",
                outside_m2 = m2(*outside_m2, 2)),

            Notice::Allowance { taped, chance_percent, over_m2, lawn_m2 } => write!(
                f,
                "{} before ordering: to be {chance_percent:.0} % sure, the order would be {over_m2} ({:.0} %) over the measured {lawn_m2}.",
                if *taped {
                    "Tape every length a second time"
                } else {
                    "Tape the lawn, or walk it again and better,"
                },
                100.0 * over_m2 / lawn_m2, over_m2 = m2(*over_m2, 1), lawn_m2 = m2(*lawn_m2, 1)),
            Notice::Unpriced { items } => write!(
                f,
                "The price leaves out, for want of a rate: {}.",
                items.join(", ")
            ),
            Notice::NoPlan { cutting_percent } => write!(
                f,
                "The lawn has no plan to lay rows on, so turf is counted as area and {cutting_percent} % for cutting."
            ),
            Notice::CloseJoints { joints, stagger_m } => write!(
                f,
                "{joints} joints could not be kept {} from those of the row before. A smaller stagger_m or min_piece_m \
                 gives more freedom.",
                match units {
                    Units::Metric => format!("{stagger_m} m"),
                    Units::Imperial => m(*stagger_m, 2),
                }
            ),
            Notice::TooLargeForRows { most_pieces, cutting_percent } => write!(
                f,
                "The lawn takes more than {most_pieces:.0} pieces or rows, too many to lay out one by one; turf is counted \
                 as area and {cutting_percent} % for cutting. Divide the job, or choose a larger piece."
            ),
            Notice::DrawnSmall { drawn_m2, net_m2 } => write!(
                f,
                "The lawn as drawn is {drawn_m2}, less than the measured {net_m2}; the pieces are scaled up by \
                 {:.1} %.",
                100.0 * (net_m2 / drawn_m2 - 1.0), drawn_m2 = m2(*drawn_m2, 1), net_m2 = m2(*net_m2, 1)),
            Notice::EdgingUnknown { around, labels } => write!(
                f,
                "Edging is asked for around “{around}”, but nothing here is called that. It may be “lawn”, “beds”, “paths” or a label: {}.",
                labels.join(", ")
            ),
            Notice::EdgingUncounted { labels } => write!(
                f,
                "Edging round {} is not counted: how long their edges are, or how much of them they share, is not known. Give at_m and \
                 bearing_deg for a plan, or tape round them and order it by hand.",
                labels.join(", ")
            ),
            Notice::VehicleTooSmall { pallet_t, vehicle_t } => write!(
                f,
                "A full pallet weighs {}, but [delivery] vehicle_t is {vehicle_t} t: give the vehicle that brings it.",
                match units {
                    Units::Metric => format!("{pallet_t:.2} t"),
                    Units::Imperial => units.weight(1000.0 * pallet_t),
                }
            ),
        }
    }
}

/// Why a place that the job sheet names was not found. `there` says where the surveyor should have stood at it, as in "on the edge".
fn not_found(why: NotFound, units: Units, there: &str) -> String {
    match why {
        NotFound::FarFromEdgeM(far_m) => {
            format!("it lies {} from the nearest edge", length(units, far_m, 0))
        }
        NotFound::NoEdge => "there is no edge".to_owned(),
        NotFound::NoFixThen => "no position is of that time (times are UTC)".to_owned(),
        NotFound::Standstills { found, asked } => {
            format!("the walk stands still {found} time(s) {there}, not {asked}")
        }
    }
}

fn once_more(f: &mut Formatter<'_>, walk: &Course, laps: usize, turns: f64) -> fmt::Result {
    write!(
        f,
        "Besides the {laps} lap(s) found {walk} goes {:.0} % of the way round once more without coming back to its start.",
        100.0 * turns
    )
}

fn drifted(f: &mut Formatter<'_>, moves: &str) -> fmt::Result {
    write!(
        f,
        ", more than this receiver's error explains. If the position drifted away during the walk, that may move the area \
         by {moves} or more. {WALK_IT_AGAIN}"
    )
}

fn all_damage(kinds: &[Damage]) -> String {
    let each = kinds.iter().map(|kind| {
        let lines: Vec<String> = kind.first_lines.iter().map(u32::to_string).collect();
        format!("{} {} (line {})", kind.count, kind.reason, lines.join(", "))
    });
    each.collect::<Vec<String>>().join("; ")
}

fn unread(sizes: &[UnreadSize], more: usize) -> String {
    let each = sizes
        .iter()
        .map(|size| format!("“{}” in line {}", size.text, size.line));
    let mut all = each.collect::<Vec<String>>().join(", ");
    if more > 0 {
        all.push_str(&format!(" and {more} more"));
    }
    all
}

/// What a stated accuracy was taken for, and what was made of it.
fn taken_for(accuracy: Accuracy) -> String {
    let kind = match accuracy {
        Accuracy::Axis => return "taken for one sigma of each axis".to_string(),
        Accuracy::Axis95 => "figure of each axis that holds 95 % of positions",
        Accuracy::Rms => "root mean square of the position",
        Accuracy::TwiceRms => "twice the root mean square of the position (2DRMS)",
        Accuracy::Radius68 => "radius that holds 68 % of positions",
        Accuracy::Radius95 => "radius that holds 95 % of positions",
        Accuracy::Radius50 => "radius that holds half of the positions (CEP)",
    };
    format!(
        "taken for the {kind}: one sigma of each axis is that by {:.2}",
        accuracy.sigmas()
    )
}

fn titles(columns: &[ColumnRead]) -> String {
    let each = columns.iter().map(
        |ColumnRead {
             taken_for,
             title,
             accuracy,
         }| {
            let kind = accuracy.map(|kind| format!(", {}", self::taken_for(kind)));
            format!("{taken_for} from \"{title}\"{}", kind.unwrap_or_default())
        },
    );
    each.collect::<Vec<String>>().join(", ")
}

fn bent(sides: &[BentSide], units: Units) -> String {
    let each = sides.iter().map(|side| {
        let taken = if side.taken_as_straight {
            "taken as straight"
        } else {
            "taken as walked"
        };
        format!(
            "{} ({}, {taken})",
            side.side,
            length(units, side.bulge_m, 1)
        )
    });
    each.collect::<Vec<String>>().join(", ")
}

/// The first twelve names, and how many more there are.
fn some(names: &[String]) -> String {
    const NAMED: usize = 12;
    let first = names[..names.len().min(NAMED)].join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => first,
        more => format!("{first} and {more} more"),
    }
}

/// When the walk stood still on the edge: at the corners, if the surveyor stops at them.
fn stood(stood_s: &[f64]) -> String {
    const NAMED: usize = 12;
    if stood_s.is_empty() {
        return String::new();
    }
    let times: Vec<String> = stood_s.iter().take(NAMED).map(|&s| clock(s)).collect();
    format!(
        " The walk stands still on the edge at {}.",
        times.join(", ")
    )
}

fn in_line(line: Option<u64>) -> String {
    line.map_or_else(String::new, |line| format!(" (line {line})"))
}
