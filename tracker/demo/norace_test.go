//go:build !race

package demo_test

const fewer = false
