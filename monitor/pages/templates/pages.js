(function () {
  'use strict';
  /* Answers that a dead connection keeps from being sent stay on this phone, are sent again, and count once. */
  var key = 'fallow.unsent', form = document.getElementById('checkin'), told = document.getElementById('kept'), busy = false;
  function kept() {
    try { return JSON.parse(localStorage.getItem(key)) || []; } catch (error) { return []; }
  }
  function keep(list) {
    try {
      if (list.length) localStorage.setItem(key, JSON.stringify(list)); else localStorage.removeItem(key);
      return true;
    } catch (error) { return false; }
  }
  function say(words) {
    if (!told) return;
    told.textContent = words;
    told.hidden = !words;
  }
  function without(list, once) { return list.filter(function (one) { return one.once !== once; }); }
  function token() {
    var field = document.querySelector('input[name="token"]');
    return field ? field.value : '';
  }
  function send(one) {
    var body = new URLSearchParams(one.answers);
    body.set('token', token());
    body.set('said_at', one.at);
    return fetch('/checkin', {method: 'POST', body: body, redirect: 'manual', credentials: 'same-origin'});
  }
  function sendKept() {
    var list = kept(), one = list[0];
    if (!one || busy || !token()) return;
    busy = true;
    say('A check-in of ' + new Date(one.at).toLocaleString() + ' is being sent.');
    send(one).then(function (answer) {
      busy = false;
      if (answer.type === 'opaqueredirect' || answer.ok) {
        keep(without(kept(), one.once));
        if (kept().length) sendKept(); else if (!form || one.here) location.replace('/?noted'); else say('What was kept has been sent.');
      } else if (answer.status === 400) {
        keep(without(kept(), one.once));
        say('An older check-in was not understood; please check in anew.');
      } else {
        say('A check-in is kept on this phone and was not taken yet. It is tried again.');
      }
    }, function () {
      busy = false;
      say('No connection. Your check-in is kept on this phone and is sent as soon as there is one.');
    });
  }
  if (form) form.addEventListener('submit', function (event) {
    var pairs = [];
    new FormData(form).forEach(function (value, name) { if (name !== 'token' && value !== '') pairs.push([name, String(value)]); });
    var one = {once: form.elements.once.value, at: new Date().toISOString(), answers: pairs, here: true};
    if (!pairs.some(function (pair) { return pair[0] !== 'once'; })) return;
    if (!keep(without(kept(), one.once).concat([one]))) return;
    event.preventDefault();
    sendKept();
  });
  addEventListener('online', sendKept);
  addEventListener('pageshow', sendKept);
  setInterval(sendKept, 20000);
})();
