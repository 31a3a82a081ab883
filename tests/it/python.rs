//! Small scripts in another language, for answers that do not come from this code.

use std::{
    io::Write,
    path::Path,
    process::{Command, Output, Stdio},
};

/// Whether Python and these modules are there; if not, the reason is printed.
///
/// # Panics
/// If they are absent and `LOOKROOM_REQUIRE_PYTHON` says that they must be there.
pub(crate) fn has(modules: &[&str]) -> bool {
    let import = format!(
        "import {}",
        if modules.is_empty() { "sys".to_owned() } else { modules.join(", ") }
    );
    let found = Command::new("python3").args(["-c", &import]).stderr(Stdio::null()).status();
    if found.is_ok_and(|status| status.success()) {
        return true;
    }
    assert!(
        std::env::var_os("LOOKROOM_REQUIRE_PYTHON").is_none(),
        "LOOKROOM_REQUIRE_PYTHON is set, and python3 with {modules:?} is not there"
    );
    eprintln!(
        "skipped: python3 with {modules:?} is not there (pip install -r tests/oracle/requirements.txt)"
    );
    false
}

/// What a script under `tests/` prints, given arguments and its standard input.
///
/// # Panics
/// If the script fails.
pub(crate) fn run(script: &str, arguments: &[&str], input: &str) -> String {
    let output = output(script, arguments, input);
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{script} failed:\n{errors}");
    String::from_utf8(output.stdout).expect("the script prints text")
}

/// What a script prints, and how it ends.
pub(crate) fn output(script: &str, arguments: &[&str], input: &str) -> Output {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(script);
    let mut child = Command::new("python3")
        .arg(path)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("python3 starts");
    child.stdin.take().expect("a pipe").write_all(input.as_bytes()).expect("the script reads");
    child.wait_with_output().expect("the script ends")
}
