-- What was stored as a sentence becomes the code of that sentence (monitor/reasons.py). A sentence with values in it,
-- beyond the few at the end, stays as it is and is shown as it is.

-- Of stores with rows only.

UPDATE outbox SET reason = known.code FROM (VALUES
    ('below receives', 'below_receives'),
    ('already told', 'already_told'),
    ('now below receives', 'now_below_receives'),
    ('changed before it was read', 'changed_unread'),
    ('taken back', 'taken_back'),
    ('sent before', 'sent_before'),
    ('sent before the store was begun anew', 'sent_earlier'),
    ('one a day', 'one_a_day'),
    ('tried again on request', 'tried_again'),
    ('no such channel in the roster', 'no_channel'),
    ('the day it was about is over', 'day_over'),
    ('gave up after a day', 'given_up'),
    ('perhaps delivered; not sent again', 'perhaps_given_up')
) AS known(sentence, code) WHERE outbox.reason = known.sentence;
UPDATE outbox SET reason = 'quiet_hours' WHERE reason LIKE 'deferred until __:__' AND not_before IS NOT NULL;
UPDATE decision SET reason = known.code FROM (VALUES
    ('below receives', 'below_receives'),
    ('already told', 'already_told'),
    ('now below receives', 'now_below_receives'),
    ('changed before it was read', 'changed_unread'),
    ('taken back', 'taken_back'),
    ('sent before', 'sent_before')
) AS known(sentence, code) WHERE decision.reason = known.sentence;
UPDATE outbox SET last_error = known.code FROM (VALUES
    ('did not take it', 'not_taken'),
    ('the desktop did not take it', 'desktop_refused'),
    ('no such recipient in the roster any more', 'no_such_recipient'),
    ('no channel that Apprise can send to', 'no_apprise_channel'),
    ('could not be reached, or did not answer', 'unreachable'),
    ('took the message and did not answer in time', 'no_answer_to_message'),
    ('its certificate is not valid for this host', 'certificate_invalid'),
    ('no such host', 'no_such_host'),
    ('could not be reached in time', 'unreachable_in_time'),
    ('does not speak TLS there, or not as wanted', 'no_tls'),
    ('the mail server offers no encryption, or no log-in', 'mail_without_encryption')
) AS known(sentence, code) WHERE outbox.last_error = known.sentence;

UPDATE intake SET reason = known.code FROM (VALUES
    ('not a kind of file that fallow reads', 'other_kind'),
    ('a symbolic link; links are not followed, put the file itself here', 'symbolic_link'),
    ('a name with characters that are no text; rename the file', 'odd_name'),
    ('a folder named like a file; it is not looked into', 'folder_named_like_a_file'),
    ('labelled as a ride, but it holds what only running has: taken as a run', 'ride_is_a_run'),
    ('not a regular file; it was not opened', 'no_regular_file'),
    ('the device had no date when it recorded this, so it belongs to no day', 'no_date'),
    ('not a regular file', 'neither_file_nor_folder'),
    ('no date: put a first line such as ''# 2026-10-06'', or the date into the file''s name', 'rr_file_without_date'),
    ('RR intervals too irregular to take an RMSSD from', 'rr_intervals_irregular'),
    ('cadence was of one leg and is doubled to steps a minute', 'cadence_doubled'),
    ('an empty list of check-ins', 'no_check_ins_in_list'),
    ('its header gives no length', 'header_gives_no_length'),
    ('its checksum is missing', 'checksum_is_missing'),
    ('its checksum is wrong', 'checksum_is_wrong'),
    ('its header carries no checksum', 'header_carries_no_checksum'),
    ('the checksum of its header is wrong', 'checksum_of_header_is_wrong'),
    ('a measurement of the heartbeat at rest, not a session', 'measured_at_rest'),
    ('the file is empty', 'file_is_empty'),
    ('not a FIT file: it does not begin as one', 'not_fit_file'),
    ('cut off after its header, before anything was recorded', 'cut_off_after_header'),
    ('the device had no date; its times are taken from the local time at its end', 'device_had_no_date'),
    ('nothing recorded in it that is judged', 'nothing_recorded'),
    ('the fast decoder broke down on it', 'fast_decoder_broke'),
    ('a message in it makes no sense', 'message_makes_no_sense'),
    ('the file ends in the middle of a message', 'file_ends_in_middle'),
    ('no track in it: a route or waypoints, not a recording', 'no_track'),
    ('no times in it: a route, not a recording', 'no_times'),
    ('an archive within an archive; unpack it once', 'archive_within_archive'),
    ('its name leads out of the archive', 'name_leads_out_of_archive'),
    ('its name is not one of a plain file', 'no_plain_file_name'),
    ('it is encrypted', 'encrypted_member'),
    ('it is a link', 'link_in_archive'),
    ('it is packed by a method that is not read; pack it with deflate', 'unknown_compression'),
    ('no file of a kind that is read', 'no_file_that_is_read'),
    ('an empty file', 'empty_file'),
    ('holds a web page', 'web_page'),
    ('an empty file in a gzip file', 'empty_file_in_gzip'),
    ('the gzip file is cut off', 'gzip_file_is_cut_off'),
    ('more in the archive than can be read at once; unpack it into the folder', 'archive_holds_too_much'),
    ('a JSON file without a check-in, sleep, resting heart rate or RR intervals', 'json_without_known_data'),
    ('heart rates that are not said to be at rest are left out', 'heart_rates_not_at_rest'),
    ('RR intervals that are not single beats at rest are left out', 'rr_intervals_not_single_beats'),
    ('no time interval', 'no_time_interval'),
    ('it ends before it starts', 'ends_before_it_starts'),
    ('a time beyond the calendar', 'time_beyond_calendar'),
    ('an empty JSON document', 'empty_json_document'),
    ('not within a day after the bedtime; both left out', 'waking_too_far_from_bedtime'),
    ('its name cannot be opened', 'name_cannot_be_opened'),
    ('no longer there', 'no_longer_there'),
    ('may not be opened: permission denied', 'may_not_be_opened'),
    ('a link or outside of its folder; it was not opened', 'link_or_outside_of_folder'),
    ('it grew while it was read', 'grew_while_it_was_read'),
    ('cannot be read', 'cannot_be_read'),
    ('the same session, told better', 'same_session'),
    ('it had before', 'had_before'),
    ('holds nothing that fallow judges', 'nothing_judged'),
    ('nothing in it that is not known already', 'nothing_new'),
    ('date_order = "dmy" or "mdy" under [athlete.columns]', 'date_order_setting'),
    ('no trackpoints: only the summary of its laps is known', 'no_trackpoints'),
    ('the laps'' times come to more than the recording lasted and are not used', 'lap_times_too_long'),
    ('no activity in it: a planned course or an empty export', 'no_activity'),
    ('the positions do not move: speed and distance are not known', 'positions_do_not_move'),
    ('points that were out of order in time were put in order', 'points_put_in_order'),
    ('broken XML: no element in it', 'xml_without_element'),
    ('JSON nested beyond reason', 'json_nested_beyond_reason'),
    ('XML with a document type or entities is refused; export it again as TCX or GPX', 'xml_with_document_type'),
    ('XML nested too deep or with too many elements for an activity', 'xml_nested_too_deep'),
    ('the decoder crashed on it', 'decoder_crashed'),
    ('the process that decoded it was killed from outside', 'decoder_killed'),
    ('the fast decoder is not installed', 'fast_decoder_missing')
) AS known(sentence, code) WHERE intake.reason = known.sentence;
UPDATE intake SET reason = 'same_bytes {"path": {"reason": "had_before"}}'
WHERE reason = 'the same bytes as it had before';
UPDATE intake SET reason = 'same_bytes ' || json_object('path', substr(reason, 19))
WHERE state = 'duplicate' AND starts_with(reason, 'the same bytes as ');
UPDATE intake SET reason = 'same_recording ' || json_object('path', substr(reason, 23))
WHERE state = 'duplicate' AND starts_with(reason, 'the same recording as ');
UPDATE intake SET reason = 'same_session_told_better '
    || json_object('path', substr(reason, 21, length(reason) - 20 - length(', which tells more')))
WHERE state = 'duplicate' AND starts_with(reason, 'the same session as ') AND ends_with(reason, ', which tells more');
