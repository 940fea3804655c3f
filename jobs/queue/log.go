package queue

import (
	"fmt"
	"log/slog"
)

// logger passes asynq's lines on. Its info is about its own goroutines and is debug to us; its fatal is an error to us,
// because the server that could not start also returns it.
type logger struct{ log *slog.Logger }

func (l logger) Debug(args ...any) { l.log.Debug("asynq: " + fmt.Sprint(args...)) }
func (l logger) Info(args ...any)  { l.log.Debug("asynq: " + fmt.Sprint(args...)) }
func (l logger) Warn(args ...any)  { l.log.Warn("asynq: " + fmt.Sprint(args...)) }
func (l logger) Error(args ...any) { l.log.Error("asynq: " + fmt.Sprint(args...)) }
func (l logger) Fatal(args ...any) { l.log.Error("asynq: " + fmt.Sprint(args...)) }
