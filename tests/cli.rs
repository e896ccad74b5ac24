//! The command line as a user meets it: what is printed where, and the exit code.

#[path = "made/kept.rs"]
mod kept;
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

    use std::io::Write;
    use std::process::{Command, Output, Stdio};

    pub fn boundwalk() -> Command {
        Command::new(env!("CARGO_BIN_EXE_boundwalk"))
    }

    /// What came of a call that is given this through a pipe on standard input.
    pub fn piped(command: &mut Command, input: impl AsRef<[u8]>) -> Output {
        command.stdin(Stdio::piped());
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (mut pipe, input) = (child.stdin.take().unwrap(), input.as_ref());
        std::thread::scope(|threads| {
            // Beside the reading of what it prints, for else each may wait for the other. It may stop reading before the end.
            threads.spawn(move || pipe.write_all(input).is_ok());
            child.wait_with_output().unwrap()
        })
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
