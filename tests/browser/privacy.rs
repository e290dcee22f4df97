//! Nothing goes out: no request to any other place, and nothing of the client's in addresses, titles or logs.

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

const SECRET: &str = "Zzyzx";

/// Keeps what a later question could not know: titles and addresses as they change, and what the policy refused.
const WATCH: &str = "
    window.seen = [];
    document.addEventListener('securitypolicyviolation', e => seen.push(`refused: ${e.violatedDirective} ${e.blockedURI}`));
    setInterval(() => { for (const s of [document.title, location.href]) if (!seen.includes(s)) seen.push(s); }, 20);
    for (const kind of ['log', 'info', 'warn', 'error', 'debug']) {
        const real = console[kind];
        console[kind] = (...said) => { seen.push(`console: ${said.join(' ')}`); real(...said); };
    }
";

#[tokio::test]
async fn a_whole_job_asks_no_other_place_and_tells_nobody_whose_it_is() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(WATCH).await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make(SECRET, "20, 52").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for _ in 0..4 {
        pass.on_target().await;
    }
    pass.type_and_enter("31").await;
    pass.wait_until_saved().await;
    browser.tap(".bar a.tool").await;
    let file = Order(&browser).export().await;
    assert!(
        std::fs::read_to_string(file)
            .expect("the file")
            .contains(SECRET)
    );
    for place in ["#/preferences", "#/new", "#/"] {
        browser
            .run("location.hash = arguments[0]", vec![json!(place)])
            .await;
        browser.wait_for("main").await;
    }
    let asked = "return performance.getEntriesByType('resource').map(e => e.name)";
    let asked = browser.run(asked, vec![]).await;
    let asked: Vec<String> = serde_json::from_value(asked).expect("addresses");
    assert!(asked.iter().any(|url| url.ends_with(".wasm")), "{asked:?}");
    for url in &asked {
        let own = url.starts_with(&site.url()) || url.starts_with(&format!("blob:{}", site.url()));
        assert!(own && !url.contains(SECRET), "{url} was asked for");
    }
    let seen = browser.run("return seen", vec![]).await;
    let seen: Vec<String> = serde_json::from_value(seen).expect("a list");
    assert!(seen.iter().any(|s| s.contains("Evenhand")), "{seen:?}");
    for what in &seen {
        assert!(
            !what.contains(SECRET) && !what.starts_with("refused"),
            "{what}"
        );
    }
    let log = browser.console_log().await;
    assert!(!log.iter().any(|line| line.contains(SECRET)), "{log:?}");
}

/// The policy in force: what it must forbid is tried.
#[tokio::test]
async fn the_policy_refuses_foreign_requests_inline_scripts_and_eval() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let tried = "
        return (async () => {
            const outcome = {};
            outcome.fetch = await fetch('http://localhost:9/').then(() => 'went', e => e.name);
            outcome.violations = [];
            document.addEventListener('securitypolicyviolation', e => outcome.violations.push(e.effectiveDirective));
            const inline = document.createElement('script');
            inline.textContent = 'window.inline = true';
            document.head.append(inline);
            const image = new Image();
            image.src = 'http://localhost:9/x.png';
            await new Promise(done => setTimeout(done, 200));
            outcome.inline = window.inline ?? false;
            outcome.violations.sort();
            return outcome;
        })();
    ";
    let outcome = browser.run(tried, vec![]).await;
    assert_eq!(outcome["fetch"], "TypeError");
    assert_eq!(outcome["inline"], Value::Bool(false));
    let violations = outcome["violations"].to_string();
    assert!(
        violations.contains("script-src-elem") && violations.contains("img-src"),
        "{violations}"
    );
    let policy = "return document.querySelector('meta[http-equiv]').content";
    let policy = browser.run(policy, vec![]).await;
    let policy = policy
        .as_str()
        .unwrap_or_default()
        .replace("'wasm-unsafe-eval'", "");
    assert!(
        !policy.contains("unsafe-eval")
            && !policy
                .replace("style-src-attr 'unsafe-inline'", "")
                .contains("unsafe-inline"),
        "{policy}"
    );
}
