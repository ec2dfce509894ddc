"""Definition of terms: what each word means on these pages, in papers and in commands. One table; an auditor reads it.

Words of the trade are used as the trade uses them; where a standard is named beside one, the definition is in our own
words and from memory unless it says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "common practice, no source"
OURS = "term of this program"


@dataclass(frozen=True)
class Term:
    word: str
    meaning: str
    source: str


TERMS: tuple[Term, ...] = (
    Term("accepted", "Torque, direction, end, tool and certificate of a record fit the place it stands for. What was "
         "judged is said beside it.", OURS),
    Term("as found, as left", "State of a joint before anything was touched and after the work; of a tool before and "
         "after it was adjusted.", PRACTICE),
    Term("back-up", "A copy of all facts, signed states and kept files at another place, from which the dossier can be "
         "restored and proven to be the same.", OURS),
    Term("calibration certificate", "Document that says how far a tool's readings are from a reference, with its "
         "uncertainty and the day until which it is used.", "ISO 6789-2, from memory, not re-read"),
    Term("card", "Numbered paper for work where no device may go: what is asked, and fields for what was done. Counted "
         "out and in.", OURS),
    Term("check pass", "Pass at the full torque by which it is seen whether any fastener still moves.", PRACTICE),
    Term("check-device pull", "Pull of a tool on a check device, to see whether its reading still holds.", PRACTICE),
    Term("checkpoint", "Signed statement of how many facts there are and of the root they lead to, written at the end "
         "of each transaction.", "RFC 6962 in kind"),
    Term("class A, B, C", "Consequence class of a joint: danger to life, loss of the machine, nuisance.",
         "VDI/VDE 2862-1, from memory, not re-read"),
    Term("clock contact", "A tool's clock and a trusted clock read at the same moment. Between contacts the offset is "
         "computed with its uncertainty.", OURS),
    Term("correction", "A new fact that names a record, a field, the value that stood there and the right one, with "
         "name and reason. The old value stays readable.", "21 CFR 11.10(e)"),
    Term("deviation", "Something that is not as it was asked. It is settled by a decision with name and reason, or by "
         "the work being done.", "ISO 9001:2015 8.7"),
    Term("disposition", "A person's decision on one flag: who, when, why. Accept as it is, redo, replace, engineering "
         "review, not this joint, superseded.", "ISO 9001:2015 8.7"),
    Term("entry", "Something that a person states beside the records: when it happened, when it was written, how the "
         "writer knows.", OURS),
    Term("exception", "Permission to go on without a gate being met, by a person with the authority, written with its "
         "limits.", PRACTICE),
    Term("exception report", "A list of what went another way than planned, to be read by somebody regularly; the "
         "reading is a fact.", OURS),
    Term("fact", "What somebody or some tool asserted, written once, with author and time. Nothing changes or deletes "
         "it.", OURS),
    Term("finding", "What follows from the facts by the rules of this version. It can be made again any time.", OURS),
    Term("flag", "One thing to look at, with its numbers. A blocking one keeps a joint from being released until it is "
         "settled.", OURS),
    Term("follow-up", "Work that is due after a release: by day, hours, distance or cycles.", OURS),
    Term("gate", "A condition that has to be met before the work, between passes, or before the release.", OURS),
    Term("heat", "Melt from which a lot of parts was made; parts of several lots may be of one heat.", PRACTICE),
    Term("independent check", "What a second person, who tightened nothing on the joint, has seen for himself.",
         "EASA 145.A.48, from memory, not re-read"),
    Term("joint", "Fasteners that hold one thing together and are tightened by one specification.", OURS),
    Term("late entry", "Written more than a day after it happened. It says how the writer knows and why it is late; "
         "the time of writing is never back-dated.", PRACTICE),
    Term("legal hold", "Nothing of a joint may be given away or destroyed, whatever its retention says.", PRACTICE),
    Term("lot", "Parts or lubricant of one delivery or production, under one number.", PRACTICE),
    Term("memory", "Stretch of a tool's own storage in which its counter rises; a reset begins another one.", OURS),
    Term("not judged", "What is recorded is not enough to say accepted or not accepted.", OURS),
    Term("open item", "A fastener that was loosened, removed or disturbed, or a part, mark or check that is missing: "
         "owed until it is done and entered.", PRACTICE),
    Term("pass", "One round over the fasteners, at one stage of the torque.", "ASME PCC-1, from memory, not re-read"),
    Term("prevailing torque (drag)", "Torque that turns a self-locking nut without clamping anything.",
         "ISO 2320, from memory, not re-read"),
    Term("qualification", "What a person is trained for, who said so, and from when until when it holds.", PRACTICE),
    Term("re-tighten after service", "Tightening again of a joint that has been in service; not a touch-up.", PRACTICE),
    Term("reading of a file", "A file taken in once under one mapping, with all its records.", OURS),
    Term("record", "One tightening event on one fastener, as a source says it.", OURS),
    Term("released", "A person has signed the state of the joint, and nothing has changed since.", OURS),
    Term("residual torque", "Torque that just moves a tightened fastener on. It is not what it was tightened with.",
         PRACTICE),
    Term("retention", "How long records are kept at least, counted from the release.", PRACTICE),
    Term("revision", "One written state of the specification of a joint, with its document, approver and the day from "
         "which it is in force.", PRACTICE),
    Term("root", "Number that stands for all facts up to one place: a change of any fact changes it.", "RFC 6962"),
    Term("shift check", "A pull on a check device at the beginning or end of a shift.", PRACTICE),
    Term("sibling", "Another joint that shares something with one that failed: kind, operator, tool, lot, values.",
         OURS),
    Term("touch-up", "Pull on fasteners that were tightened before, in the same work, because later pulls took load "
         "off them. It is no reuse.", "RCSC specification, from memory, not re-read"),
    Term("witness mark", "Line across fastener and part, drawn after the last pass, that shows a later movement.",
         PRACTICE),
)  # fmt: skip
