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
  const save = (name, type, text) => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  };
  document.getElementById("save").addEventListener("click", () => {
    save("marks.json", "application/json", JSON.stringify({ schema: stored.schema, marks: [...marks.values()] }, null, 2) + "\n");
    document.getElementById("saved").textContent = "Saved as marks.json with " + marks.size + (marks.size === 1 ? " mark." : " marks.");
  });

  // The feedback sheet: pieces that the program wrote, chosen by marks, with comments and own words.
  const pieces = JSON.parse(document.getElementById("pieces").textContent);
  const plain = (text) => text.trim().split(/\s+/).join(" ").replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;")
    .replace(/[\\`*_[\]|#~!]/g, "\\$&");
  const said = (note) => marks.get(ident(note));
  const sheet = () => {
    const notes = pieces.notes.filter((note) => (said(note)?.mark ?? "fits") === "fits");
    const words = new Set([...pieces.head_words, ...notes.flatMap((note) => note.words), ...(notes[0]?.step_words ?? [])]);
    const listed = pieces.words.filter((entry) => words.has(entry.word)).map((entry) => entry.line);
    const own = document.getElementById("words").value.split(/\n\s*\n/).filter((paragraph) => paragraph.trim());
    return [
      pieces.head,
      notes.length ? "" : pieces.none,
      ...notes.map((note, at) => {
        const comment = (said(note)?.comment ?? "").trim();
        return `### ${at + 1}. ${note.title}\n\n${note.body}${comment && `- From the mentor: ${plain(comment)}\n`}\n`;
      }),
      own.length ? "## From the mentor\n\n" + own.map((paragraph) => plain(paragraph) + "\n\n").join("") : "",
      notes[0]?.step ?? "",
      listed.length ? "## Words\n\n" + listed.join("") + "\n" : "",
      pieces.foot,
    ].join("");
  };
  document.getElementById("save-sheet").addEventListener("click", () => {
    save("sheet.md", "text/markdown", sheet());
    document.getElementById("sheet-saved").textContent = "Saved as sheet.md.";
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
