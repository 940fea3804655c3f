package jobstest_test

import (
	"testing"

	"benchbell/jobs"
	"benchbell/jobs/jobstest"
)

func TestMemory(t *testing.T) {
	jobstest.Conformance(t, func(t *testing.T) jobs.Queue { t.Parallel(); return jobstest.NewMemory() })
}
