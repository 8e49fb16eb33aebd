// The plots' numbers are printed after the signatures, and the plots in the width of A4.
"use strict";
(() => {
  const {charts, folded} = ringquellPage;
  const appendix = document.getElementById("appendix");
  function toPaper() {
    if (!appendix.hidden) return;
    appendix.hidden = false;
    for (const f of folded) {
      f.build();
      appendix.append(...f.place.childNodes);
    }
    for (const chart of Object.values(charts)) chart.resize(680, 317);
  }
  function toScreen() {
    appendix.hidden = true;
    for (const f of folded) {
      f.forget();
      if (f.details.open) f.build();
    }
    while (appendix.lastElementChild.tagName !== "H2") appendix.lastElementChild.remove();
    for (const chart of Object.values(charts)) chart.resize();
  }
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", toScreen);
})();
