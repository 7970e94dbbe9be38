"use strict";
// Without this the page shows everything; with it, claims can be narrowed down and questions copied.
(() => {
  const find = (id) => document.getElementById(id);
  const form = find("filter"), status = find("filter-status"), copy = find("copy");
  const claims = [...document.querySelectorAll(".claim")];
  const groups = [...document.querySelectorAll("main .group")];

  const narrow = () => {
    const wanted = [...form.querySelectorAll("select")].filter((each) => each.value);
    let shown = 0;
    for (const claim of claims) {
      claim.hidden = !wanted.every((each) => claim.dataset[each.name] === each.value);
      shown += !claim.hidden;
    }
    for (const group of groups) group.hidden = !group.querySelector(".claim:not([hidden])");
    status.textContent = `${shown} of ${claims.length} shown`;
    form.querySelector("button").disabled = !wanted.length;
  };

  // A link to what the filter hides, or to what is folded away, brings it to light.
  const reveal = () => {
    const target = location.hash && find(decodeURIComponent(location.hash.slice(1)));
    if (!target) return;
    if (form && target.closest("[hidden]")) {
      form.reset();
      narrow();
    }
    for (let at = target.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
    target.scrollIntoView();
  };

  if (form) {
    form.hidden = false;
    form.addEventListener("change", narrow);
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", () => setTimeout(narrow));
    narrow();
  }
  if (copy) {
    const letter = find("letter"), told = find("copied");
    copy.hidden = false;
    copy.addEventListener("click", async () => {
      try {
        await navigator.clipboard.writeText(letter.textContent);
        told.textContent = "Copied.";
      } catch {
        letter.closest("details").open = true;
        getSelection().selectAllChildren(letter);
        told.textContent = "The browser doesn't let a page copy: the text is selected, copy it from there.";
      }
    });
  }
  addEventListener("hashchange", reveal);
  reveal();
})();
