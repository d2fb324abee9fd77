(function () {
  'use strict';
  /* A word is sent without leaving the page, and the line it was about is put in the place of the old one. What changes
     elsewhere is put in its place too; nothing moves under a thumb: the order stays until it is asked for. */
  var board = document.getElementById('roster'), list = document.querySelector('ol.coach'), told = document.getElementById('told');
  if (list) Array.prototype.slice.call(list.children).forEach(function (line, at) { line.dataset.rank = at + 1; });
  function say(words) {
    if (!told) return;
    told.textContent = words;
    told.hidden = !words;
  }
  function parsed(html) { return new DOMParser().parseFromString(html, 'text/html'); }
  /* Somebody chooses or writes there just now. */
  function busy(line) { return line.querySelector('details[open]'); }
  function put(old, fresh) {
    fresh.hidden = old.hidden;
    fresh.dataset.rank = old.dataset.rank || '';
    old.replaceWith(fresh);
  }
  function sent(form, button) {
    var body = new URLSearchParams(new FormData(form)), line = form.closest('ol.coach > li');
    if (button && button.name) body.set(button.name, button.value);
    if (line) line.setAttribute('aria-busy', 'true');
    fetch(form.getAttribute('action'), {method: 'POST', body: body, headers: {'X-Part': 'line'}, credentials: 'same-origin'})
      .then(function (answer) {
        return answer.text().then(function (html) {
          var page = parsed(html);
          if (!answer.ok) {
            var main = page.querySelector('main');
            say(((main || page.body).textContent || 'That did not go through.').replace(/\s+/g, ' ').trim().replace(/ Back$/, ''));
            return;
          }
          if (!line) { location.reload(); return; }
          var fresh = page.querySelector('li[data-mark]');
          put(line, fresh);
          board.dataset.board = answer.headers.get('X-Board') || '';
          fresh.focus({preventScroll: true});
          say('');
        });
      }, function () { say('No connection. Nothing was sent; try again.'); })
      .then(function () { if (line) line.removeAttribute('aria-busy'); });
  }
  document.addEventListener('submit', function (event) {
    var form = event.target;
    if (!form.hasAttribute('data-answer') || !list) return;
    event.preventDefault();
    sent(form, event.submitter);
  });

  if (!list || !window.EventSource) return;
  var asked = false, again = false, late = false;
  function take(page) {
    var fresh = page.querySelector('ol.coach'), tally = page.getElementById('roster-h');
    if (!fresh) return;
    late = false;
    board.dataset.board = page.getElementById('roster').dataset.board;
    var there = Array.prototype.slice.call(fresh.children).map(function (line) { return line.id; });
    Array.prototype.slice.call(fresh.children).forEach(function (line) {
      var old = document.getElementById(line.id);
      if (!old) list.appendChild(line);
      else if (old.dataset.mark !== line.dataset.mark) { if (busy(old)) late = true; else put(old, line); }
    });
    Array.prototype.slice.call(list.children).forEach(function (line) {
      if (there.indexOf(line.id) < 0) line.remove();
    });
    if (tally) {
      var here = document.getElementById('roster-h');
      if (here.innerHTML !== tally.innerHTML) here.innerHTML = tally.innerHTML;
    }
  }
  document.addEventListener('toggle', function (event) { if (late && !event.target.open) look(); }, true);
  function look() {
    if (asked) { again = true; return; }
    asked = true;
    fetch('/', {credentials: 'same-origin'}).then(function (answer) { return answer.ok ? answer.text() : ''; }).then(function (html) {
      if (html) take(parsed(html));
    }, function () {}).then(function () {
      asked = false;
      if (again) { again = false; setTimeout(look, 1000); }
    });
  }
  var stream = null;
  function listen() {
    if (document.hidden) { if (stream) stream.close(); stream = null; return; }
    if (stream && stream.readyState !== 2) return;
    stream = new EventSource('/live');
    stream.addEventListener('changed', function (event) { if (JSON.parse(event.data) !== board.dataset.board) look(); });
  }
  document.addEventListener('visibilitychange', listen);
  listen();
})();
