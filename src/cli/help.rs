//! What `--help` says beyond the arguments: examples, and what goes where.

pub(super) const EXAMPLES: &str = "\
Examples:
  taperwright report sample-data/chuck-both-ways    one trial: reports/<trial>.html and .json
  taperwright report monday.csv --units in          one log on its own; the page in inches
  taperwright report trials --out pages --jobs 4    every trial below a folder, with an index
  taperwright check trials                          what is wrong with the logs; writes nothing
  taperwright new quay-spring                       settings and blank logs to start from
  taperwright plan quay-spring/trial.toml           before cutting: a sheet with boxes, blank logs
  taperwright simulate quay.toml --out demo         logs from stated causes, to learn from
  taperwright history quay-lathe-2                  its trials over time: drift, before and after a repair
  taperwright verify reports/quay-spring.html       is this page what its logs give?
  taperwright help report                           the options of one command, with examples

Caution: isolate the machine before touching its feet or its drive. Measure only with the
spindle stopped. Keep the overhang within what the chuck can hold. Never loosen hold-downs under
an unsupported machine. Local codes, the machine's own manual and licensed practice come before
anything said here.

The program never uses the network and never changes an input.
Exit status: 0 done; 1 the answer is no; 2 wrong usage; 3 an input was rejected or is missing;
4 the program failed or could not write.";

pub(super) const REPORT_HELP: &str = "\
Examples:
  taperwright report quay-spring                    a trial folder (trial.toml and logs)
  taperwright report spring.csv                     one log; what it does not say is assumed
  taperwright report trials --out pages --quiet     a folder of trials; only errors are printed
  taperwright report - --log-units mm < spring.csv  a log from standard input
  taperwright report quay-spring --format json      the result on standard output, one line

A log needs at least a column for the station (place along the bar) and one for the diameter,
each with its unit:

  station_mm,diameter_mm,pass
  20,38.021,1
  190,38.034,1

Caution: read diameters only with the spindle stopped, and isolate the machine before touching
its feet or its drive.";

pub(super) const CHECK_HELP: &str = "\
Example:
  taperwright check trials     every log below the folder: file, row, column, what was found
                               there, what would be right

All problems of a log are shown at once. Nothing is written.";

pub(super) const NEW_HELP: &str = "\
Example:
  taperwright new quay-spring          trial.toml with every setting, and blank logs
  taperwright report quay-spring       once diameters.csv has readings

Every setting in trial.toml is commented out and shows the value that is taken when nothing is
stated. Each log begins with comments on its columns, with unit and sign. Logs that you do not
need may stay blank or be thrown away. Files that exist are kept unless --force is given.";

pub(super) const PLAN_HELP: &str = "\
Example:
  taperwright new quay-spring               settings; state the bar, and a limit
  taperwright plan quay-spring/trial.toml   a sheet to print, and blank logs
  taperwright report quay-spring            once the blank logs are filled

trial.toml must state diameter_mm and length_mm in [bar]. The plan is made for the limit on taper
in [[acceptance.limit]] (or for target_expanded_mm in [plan]) and for the causes that [plan] settle
names; minutes_per_pass, minutes_per_reading and minutes_per_setup say what time costs. The sheet
goes to reports, the blank logs beside TRIAL.toml; with --out both go there. Files that exist are
kept unless --force is given.

Where the bar must not be cut as planned, as it stands out of the chuck too far, the sheet says so
and no log is written. With --units in the blank logs are in inches like the sheet.

Caution: keep the overhang within what the chuck can hold; keep tool, holder and carriage clear
of its jaws, and turn the spindle by hand once before power; measure only with the spindle
stopped.";

pub(super) const CRITERIA_HELP: &str = "\
Examples:
  taperwright criteria                           what is built in
  taperwright criteria iso-1708-general          one set, as a file to begin your own from
  taperwright report quay --criteria workshop.toml --require-conformity

A value that nobody compared with its source, being from memory or at second hand, says from-memory
here, and is marked with a dagger on every page.";

pub(super) const SIMULATE_HELP: &str = "\
Example:
  taperwright simulate quay.toml --out demo
  taperwright report demo

quay.toml is a trial.toml with a [simulate] table, which says what logs to make, and
[simulate.truth], which says what is wrong with the machine. The logs go to --out, or beside the
TOML file, with the truth beside them. Files that exist are kept unless --force is given.
Simulated logs are for learning; they say nothing about a machine.";

pub(super) const HISTORY_HELP: &str = "\
Example:
  taperwright history quay-lathe-2-years     every dated trial below the folder, on one page

Each trial states its date ([trial] date); a trial without one is left out, with the reason. One
section a machine and way of holding the bar. A trial in which feet were moved stands with its
latest setting. State what was done to the machine since the trial before in [trial] repair: taper,
barrel and causes are then compared before and after, and drift is looked for on either side.

Writes history.html into the --out folder.";

pub(super) const SCHEMA_HELP: &str = "\
Examples:
  taperwright schema trial > trial.schema.json      keys of trial.toml, for an editor to complete
  taperwright schema result > result.schema.json    for a program that reads result files
  taperwright schema criteria                       keys of a criteria file

An editor that knows TOML takes the schema from the first line of trial.toml:

  #:schema ./trial.schema.json

The schemas are of JSON Schema draft 2020-12. `taperwright check` tells more: what one key says of
another is in no schema.";

pub(super) const COMPLETIONS_HELP: &str = "\
Examples:
  taperwright completions bash > ~/.local/share/bash-completion/completions/taperwright
  taperwright completions fish > ~/.config/fish/completions/taperwright.fish
  taperwright completions zsh > ~/.zfunc/_taperwright       with ~/.zfunc in fpath
  taperwright completions powershell >> $PROFILE";

pub(super) const MAN_HELP: &str = "\
Examples:
  taperwright man | man -l -                        read it
  taperwright man > ~/.local/share/man/man1/taperwright.1";

pub(super) const VERIFY_HELP: &str = "\
Example:
  taperwright verify reports/quay-spring.html     makes the page again from the logs that it carries

Every byte is compared, and each figure that differs is named, in words, tables, attributes and
drawings, with any log that was altered. A page that states another version never agrees: of it
the printed numbers are compared by their keys, each that differs or that one of the two pages
lacks is named, and its words need that version. Logs too large to be carried (above 1 MiB when
packed) are looked for in the folder that --logs names; their hashes say whether they are the
same. Nothing is written.

A page that agrees shows that page and logs belong together, not that the logs are true.
Exit status: 0 agrees; 1 differs, or another version made the page; 3 not such a report, or
its logs are missing.";
