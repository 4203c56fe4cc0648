"use strict";
(() => {
  // Marks: kept in this browser under the name of the evening, saved as a file on request.
  const key = "deskside marks of " + document.body.dataset.session;
  const stored = JSON.parse(document.getElementById("marks").textContent);
  const ident = (mark) => mark.rule + "\n" + [...mark.channels].map((one) => one.trim().toLowerCase()).sort().join("\n");
  const marks = new Map(stored.marks.map((mark) => [ident(mark), mark]));
  const fields = [...document.querySelectorAll("fieldset.marks")];
  const of = (field) => ({ rule: field.dataset.rule, channels: JSON.parse(field.dataset.channels) });
  try {
    for (const mark of JSON.parse(localStorage.getItem(key) ?? "[]")) marks.set(ident(mark), mark);
  } catch {
    // A browser that keeps nothing still shows and saves marks.
  }
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify([...marks.values()]));
    } catch {
      // As above.
    }
  };
  for (const field of fields) {
    const known = marks.get(ident(of(field)));
    const comment = field.querySelector("input[type=text]");
    if (known) {
      for (const choice of field.querySelectorAll("input[type=radio]")) choice.checked = choice.value === known.mark;
      comment.value = known.comment;
    }
    field.addEventListener("input", () => {
      const chosen = field.querySelector("input:checked");
      if (!chosen) return;
      const mark = { ...of(field), mark: chosen.value, comment: comment.value };
      marks.set(ident(mark), mark);
      keep();
    });
  }
  document.getElementById("save").addEventListener("click", () => {
    const text = JSON.stringify({ schema: stored.schema, marks: [...marks.values()] }, null, 2) + "\n";
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.download = "marks.json";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    document.getElementById("saved").textContent = "Saved as marks.json with " + marks.size + (marks.size === 1 ? " mark." : " marks.");
  });

  // Parts: a link to one opens it, and its button prints it alone.
  const open = () => {
    const part = document.getElementById(location.hash.slice(1));
    if (part instanceof HTMLDetailsElement) part.open = true;
  };
  addEventListener("hashchange", open);
  open();
  for (const button of document.querySelectorAll("button[data-print]")) {
    button.addEventListener("click", () => {
      const part = document.getElementById(button.dataset.print);
      if (part instanceof HTMLDetailsElement) part.open = true;
      document.body.dataset.print = button.dataset.print;
      print();
    });
  }
  addEventListener("afterprint", () => delete document.body.dataset.print);

  // One passage at a time.
  document.addEventListener("play", (event) => {
    for (const other of document.querySelectorAll("audio")) if (other !== event.target) other.pause();
  }, true);
})();
