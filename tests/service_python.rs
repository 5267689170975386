//! The service with a client in another language, which is run where `LEADSMAN_PYTHON` names a Python that has what
//! `tests/client/requirements.txt` lists.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

use std::path::Path;
use std::time::Duration;

use leadsman::service::{Config, bind};

const EVENING: &str = "strategy \"Evening\"
  units us

rule \"Cool water\"
  if surface at most 62 °F
  run depth 10 to 30 ft, speed 2 to 3 mph
  because \"Cool enough to chase.\"

rule \"Warm water\"
  run depth 30 to 50 ft, speed 1.5 to 2 mph

ladder pace \"Less to chase\"
  rung large run size 3 to 4 in
  rung small run size 1 to 2 in
  step down if marks and strikeless at least 30 min
  step up if strikes(20 min) at least 2

include \"common/care.strategy\"
";

const CARE: &str = "rule \"Too warm to release\"\n  if surface at least 68 °F and releasing\n  stop \"Too warm.\"\n";

#[tokio::test(flavor = "multi_thread")]
async fn a_python_client_lists_checks_advises_and_is_refused_in_good_order() {
    let Some(python) = std::env::var_os("LEADSMAN_PYTHON") else {
        println!("skipped: LEADSMAN_PYTHON names no Python with what tests/client/requirements.txt lists");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    write("evening.strategy", EVENING);
    write("common/care.strategy", CARE);
    write("ossel/plain.strategy", "strategy \"Plain\" units metric\nrule \"x\" run depth 3 m\n");
    let mut config = Config::new(folder.path());
    config.listen.set_port(0);
    // Builds for tests are slow, and the machines that run them busy.
    config.limits.request_time = Duration::from_secs(120);
    let bound = bind(config).await.unwrap();
    let address = bound.address().to_string();
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let ended = tokio::spawn(bound.serve(async {
        let _ = stopped.await;
    }));
    let client = tokio::task::spawn_blocking(move || {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/client/advise.py");
        std::process::Command::new(python).arg(script).arg(address).output().unwrap()
    });
    let output = client.await.unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    println!("{said}");
    assert!(output.status.success(), "{said}");
    stop.send(()).unwrap();
    ended.await.unwrap().unwrap();
}
