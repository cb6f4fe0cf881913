"use strict";
// The token is behind the # of the address: a browser sends that to nobody by itself.
let token = "";
const words = document.getElementById("words");
const button = document.getElementById("begin");
const greeting = words.textContent;
function takeToken() {
  token = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
  words.textContent = token ? greeting : "This page needs a code. Ask the station to show you one.";
  button.disabled = !token;
}
takeToken();
// Another code opened in the same tab changes the address alone: nothing is loaded anew.
window.addEventListener("hashchange", () => location.hash && takeToken());
button.addEventListener("click", async () => {
  button.disabled = true;
  words.textContent = "One moment ...";
  try {
    const answer = await fetch("/begin", { method: "POST", body: token, credentials: "same-origin" });
    if (answer.ok) {
      location.replace("/");
      return;
    }
    words.textContent = await answer.text();
  } catch {
    words.textContent = "The station cannot be reached. Tell the staff.";
  }
});
