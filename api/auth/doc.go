// Package auth finds out who the caller is. A person signs in with a username and a password, and with a one-time code
// where they have a second factor; a session cookie knows them from then on. A program sends an access token with
// every request. Either way one models.Who is made where the request enters, and everything below is handed that one.
//
// # Passwords
//
// [HashPassword] is the one way from a password to a hash. It refuses what [CheckPassword] does, whichever page or
// command sets it. Store.UpdateUser never touches a password or a second factor: SetPassword, UseLink and the second
// factor's functions do, and they end the user's sessions.
//
// # Attempts
//
// Attempts to sign in are counted in the database, for all servers together: passwords and codes separately
// ([models.SignInPart]), of each account in each browser in which its user has signed in ([models.Device]), and of all
// other browsers together. A stranger uses up the attempts of strangers alone. Names that no user has share a fixed
// number of places, which takes the same work and the same room however many are invented. Signing in gives back what
// was used in that browser; another password gives back everything and forgets all browsers.
//
// Each check of a password takes a core and 19 MiB. One core fewer than there are works on them, a queue waits, and
// one more is [ErrBusy], before an attempt is taken. Refused sign-ins reach the audit trail as one entry an hour and
// account, with their number ([models.Refusals]): the first at once, the others when an hour has passed and the
// academy writes, or when the user is in.
//
// # Sessions
//
// A session is a row of sessions under the SHA-256 hash of the cookie's token. It ends after two hours unused
// (--session-idle), after twelve hours, at sign-out, and with a change of password, role or second factor. The
// session in which the change was made goes on under a new token, as it does at each step of signing in. The store
// says when one ends, by its clock; a request moves the end only where that is worth a write. Between the password
// and the code a session is pending: it has ten minutes and opens nothing.
//
// A form that is sent after its session has ended by itself is kept for its user ([Auth.Seal]): encrypted with a key
// that comes from the ended token, which only that browser has, and carried by the page to sign in. The rows of ended
// sessions stay for twelve hours to say whose they were. At sign-in the key goes into the new session of the same user,
// and of no other. A session that was ended by its user, a manager or a change of password leaves no row.
//
// The cookie is __Host-throughline, Secure, wherever a browser keeps that: behind HTTPS, and at a loopback address,
// which browsers trust as much. Reached by plain HTTP from other machines it is throughline, not Secure: a browser
// would never send the other one back. Go's cookie jar does not know of loopback addresses; apitest has a client
// that does.
//
// # One-time links
//
// A link ([models.Link]) invites for seven days, or lets a user choose another password for a day. The secret has
// 256 bits and only its hash is kept. Looking at the page uses nothing up. A newer link, or a change of the
// password, takes back the one before. A link is worth a password, and not a second factor.
//
// # The second factor
//
// It is RFC 6238: HMAC-SHA-1, 30 seconds, six digits, one step either way, each code once (users.totp_step). Its
// secret must be readable to make codes, and is in the database as it is. Its user turns it off with the password and
// a code; a manager, or the command line, does it for a user who has lost their phone.
//
// # Access tokens
//
// A token has a scope and an end. Store.Write refuses a token for reading, whatever is asked. A user makes a token
// in a session of their own. With a token no one changes a password, makes a token or a one-time link, or turns off
// a second factor, and no one changes a role, so a stolen token is never worth more than it says. A user has at most
// [models.MostTokens]. A reset by a link ends them all, and so does a change of password where its user wants it.
package auth
