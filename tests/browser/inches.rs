//! A job in inches: aims that stand on a rule, fractions in three touches, and the other unit by a key.

use serde_json::json;

use crate::browser::Browser;
use crate::outside::accessibility_faults;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::preferences::Preferences;
use crate::pages::serve_release;

#[tokio::test]
async fn a_job_in_inches_aims_at_fractions_and_takes_them_in_three_touches() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let likes = Preferences::open(&browser).await;
    likes.choose("unit", "Inches").await;
    likes.leave().await;
    Jobs::open(&browser, &site).await.make("Rule", "").await;
    Order(&browser).begin("blow").await;
    let pass = Pass(&browser);
    let title = browser.text(".bar").await;
    assert!(title.contains("1 3/4"), "{title}");

    let before = browser.taps();
    for key in ["1", "3", "/4"] {
        pass.key(key).await;
    }
    assert_eq!(browser.taps() - before, 3);
    assert_eq!(pass.reading().await, "1 3/4");
    browser.screenshot("inches").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    // Another key changes the denominator, and says so.
    pass.key("/8").await;
    assert_eq!(pass.reading().await, "1 3/8");
    pass.key("/4").await;
    pass.key("enter").await;
    pass.wait_for_note("A♯0").await;
    pass.swipe(false).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.verdict().await, "on target");
    pass.swipe(true).await;

    // 45 in cannot be meant; 45 mm can.
    pass.wait_for_note("A♯0").await;
    pass.type_and_enter("45").await;
    browser.screenshot("inches-or-millimeters").await;
    let other = "const keys = [...document.querySelectorAll('.ask button')]; const key = keys.find(b => b.innerText === '45 mm'); if (key) key.dataset.other = ''; return !!key";
    browser.wait_until(other, vec![json!(null)]).await;
    browser.tap("[data-other]").await;
    pass.wait_for_note("B0").await;

    // One rule for the point under an inch: thousandths.
    pass.back().await;
    Order(&browser).begin("natural_level").await;
    for (digits, reads) in [("3", "0.003"), ("4", "0.004"), ("12", "0.012")] {
        for digit in digits.chars() {
            pass.key(&digit.to_string()).await;
        }
        assert_eq!(pass.reading().await, reads);
        pass.key("undo").await;
    }
}
