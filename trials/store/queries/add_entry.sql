-- Does: makes an entry of the history.
-- One row per change of the records.
-- Parameters: $number, $recorded_at (UTC), $who, $what, $why, $undoes, $token, $tallied_at (UTC).
-- NULL = none; tallied_at NULL = at that time.
-- A clock that was set back must not put an entry before the one it follows, nor at the same time:
-- each is known from its own time on.
INSERT INTO entry (number, recorded_at, who, what, why, undoes, token, tallied_at)
SELECT $number, greatest($recorded_at::TIMESTAMP,
                         (SELECT max(recorded_at) + INTERVAL 1 MICROSECOND FROM entry)),
       $who, $what, $why, $undoes, $token, $tallied_at;
