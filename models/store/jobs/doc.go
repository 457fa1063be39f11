// Package jobs does work in the background: what takes longer than a request may, or must outlive the process that
// was asked. It stands on River (riverqueue.com), whose tables are in our database, so that a job exists exactly when
// the change that asked for it was committed. Nothing else imports River.
//
// # How to add a job
//
// The task. In models/job.go, a type with the ids that the work needs, and its Kind. Ids only: a job is kept for up
// to a week and must not hold what an erasure would have to find.
//
// The work. A models.JobKind in the package that knows how, such as reports/fits/keeper.go. Its Do acts through the
// store, as the console of the job's academy (job.Who()), in as many transactions as it likes. It must stand being
// cut short anywhere and begun again: the process may be killed, and the job then runs again, there or elsewhere.
//
// The order. tx.Enqueue in the transaction whose change needs the work. With Once, orders for the same task come to
// one job.
//
// The wiring. One line in the list of kinds that cmd hands to Store.Workers.
//
// # What a job may count on
//
// One at a time: of an order with Once, only one job waits or runs, in whichever process. A change that comes while
// the job runs asks for nothing new, so the job must end in the transaction that looks at whether it is done
// (tx.FinishJob), and order the next one there where it is not.
//
// Progress is kept in memory and written once a second, so that reporting it never waits, also within a transaction
// on SQLite.
//
// Failure is tried again after about 1, 16, 81, 256 seconds and so on. What is wrong for good costs all attempts and
// is then kept as failed for a week, with the last error.
//
// Cancelling ends a waiting job at once. A running one has its context cancelled within two seconds and ends as
// cancelled if it then returns an error.
//
// # Processes
//
// Each working process notes once every few seconds that it lives, while it has a job (table job_servers). A job
// whose process has not done so for Options.Dead is given back to the others. One that goes on beyond its limit
// though its context has ended is given to others by River, a quarter of an hour after it began or later.
//
// Each academy has a queue of its own, which a process looks at every Options.Poll while the academy has anything to
// do. It takes at most Options.PerAcademy jobs from it, and Options.AtOnce from all: an academy with a thousand jobs
// does not hold up the others.
//
// On SQLite River shares the one connection that writes, and waits its turn there. So a transaction must never wait
// for a job.
package jobs
