//! The command line as a user meets it: what is printed where, and the exit code.

#[path = "made/logs.rs"]
mod logs;
#[path = "made/seeded.rs"]
mod seeded;
// Of the writers of logs some are wanted here.
#[allow(dead_code)]
#[path = "made/forms.rs"]
mod written;

mod cli {
    mod asked;
    mod causes;
    mod corpus;
    mod day;
    mod endless;
    mod failed;
    mod gardens;
    mod geopackage;
    mod hostile;
    mod inspect;
    mod job;
    mod killed;
    mod live;
    mod measure;
    mod order;
    mod papers;
    mod readme;
    mod records;
    mod safe;
    mod screen;
    mod sheets;
    mod tape;
    mod usage;
    mod watch;

    use assert_cmd::Command;

    pub fn boundwalk() -> Command {
        match Command::cargo_bin("boundwalk") {
            Ok(command) => command,
            Err(error) => panic!("{error}"),
        }
    }

    /// Standard output, standard error and exit code of a call.
    pub fn call(args: &[&str]) -> (String, String, i32) {
        let output = boundwalk()
            .args(args)
            .output()
            .unwrap_or_else(|error| panic!("{error}"));
        (
            String::from_utf8_lossy(&output.stdout).into_owned(),
            String::from_utf8_lossy(&output.stderr).into_owned(),
            output.status.code().unwrap_or(-1),
        )
    }
}
